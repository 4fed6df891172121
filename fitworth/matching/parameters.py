"""Every number that tunes the match, in one frozen object, each with its unit, meaning and source."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from fitworth.vocabulary import Kind


@dataclass(frozen=True, slots=True)
class Scatter:
    """How far parts of one design stray from its nominal size, as one standard deviation.

    Attributes:
        absolute: [unit of the dimension].
        relative: [1], of the value; the two add in quadrature.
    """

    absolute: float = 0.0
    relative: float = 0.0


MAKERS_SCATTER: Mapping[Kind, Scatter] = MappingProxyType(
    {
        Kind.LENGTH: Scatter(
            absolute=0.05
        ),  # between IT9 and IT11 at 18 to 30 mm (ISO 286: 52 and 130 micrometre)
        Kind.ANGLE: Scatter(absolute=1.0),  # own choice
        Kind.RESISTANCE: Scatter(relative=0.05),  # common practice, no source
        Kind.CAPACITANCE: Scatter(relative=0.05),  # common practice, no source
        Kind.COUNT: Scatter(absolute=0.05),  # own choice: counts do not scatter; keeps densities finite
    }
)


@dataclass(frozen=True, slots=True)
class FitModel:
    """The parameters of the fit confidence. All are own choices where no source is named.

    Attributes:
        not_on_file: [probability] before any measurement, that the removed part's design is not on file.
        unlisted_misfit: [probability] that what no dimension records spoils a fit that every dimension allows
            (an assumption that users may change).
        unlisted_misfit_with_number: [probability] the same where the candidate's number was read in full.
        makers_scatter: by kind, see Scatter.
        scatter_of_allowance: [share] of an allowance's width, the most that the makers' scatter can be.
        gross_error_share: [share] of readings and of listed numbers that are gross errors: a slipped digit, a
            wrong unit, another part's row.
        choice_error_share: [share] of choices and flags that are wrong on the bench or on file.
        least_spread: [share of the median] the least that a dimension is taken to vary over all designs; a
            short catalogue shows too little of it.
        equal_within: [share of the value] how far two lengths may differ that must be equal: 13/16 in (20.64
            mm) and 20.8 mm are one spanner size.
        usual_bolt_play_mm: [mm] hole less stud where neither was measured (common practice, no source).
        relative_share: [share] of designs taken to be relatives of another one, the same but for a few
            dimensions, before a catalogue's own are counted; also of the designs that are on no file.
        relative_changes: [dimensions] in how many of all that are on file relatives differ, before a
            catalogue's own are counted.
        curable_changes: [1] how many times as often relatives differ where work helps as elsewhere (common
            practice, no source: hoses, levers and lengths are what copies change).
        relative_near: [share] of those changes that stay about as near as the allowance is wide; the others
            land on any size that designs have.
        parts_a_group: [parts] in a group of one design, before a catalogue's own are counted.
        share_count: [parts] how many counted parts weigh as much as the first guesses of a dimension's
            scatter and of how often it is changed.
        relative_count: [designs] how many counted designs weigh as much as relative_share.
        error_count: [entries] how many counted entries weigh as much as the two shares of errors above.
        least_scatter: [share] of the first guess, the least that a dimension's scatter is learned to be; few
            parts may agree by chance.
        unrelated_agrees: [probability] that two designs that have nothing to do with each other agree within
            an allowance, before a catalogue's pairs are counted.
        agreement_count: [pairs] how many counted pairs weigh as much as unrelated_agrees.
        sheet_right: [probability] that a part's own sheet is right where it differs, in what work can cure,
            from what its design has.
        safe_threshold: [probability] below it, a measured and listed `safe` dimension removes a candidate.
        number_carried: [probability] that a removed part bears the very number on file for its design; a
            design goes under several numbers.
        number_misleads: [share] of the other removed parts that bear a number on file which is not theirs:
            the old part was the wrong one, or the file is.
        number_stated: [nat] logarithm of how much likelier a number is for the part that is said to bear it
            than as one on no file, where nothing was read and compared; as of six characters.
        interchange_truth: [share] of interchange statements that prove true, beside the confidence that each
            has of its own.
        interchange_changes: [share] what counts of a statement by which a part stands in after changes only:
            it is no copy of the removed part, and the match knows the work from dimensions alone.
        engine_stated: [probability] that a listing names the engine that its part fits; lists are never
            complete.
        engine_alike_from: [similarity 0..1] below it two designations name different engines.
        engine_same_from: [similarity 0..1] from it they name the same one; between, in proportion.
        bolts_on_from: [probability] as it comes, for the verdict `bolts_on` (as the verdicts are defined).
        fits_from: [probability] fit confidence for `fits_with_work` (as the verdicts are defined).
        does_not_fit_below: [probability] fit confidence for `does_not_fit` (as the verdicts are defined).
        work_worth_telling: [probability] below it, work that might be needed is not listed.
        least_gain_bits: [bit] below it, a further measurement is not worth making.
        least_rise: [probability] where no measurement is expected to raise the confidence in the best
            candidate by as much, enough was measured.
        most_measurements: [1] how many further measurements are proposed.
        likely_hypotheses: [groups] how many of the likeliest designs are kept one by one.
        sampled_hypotheses: [groups] how many of the others stand for the rest, drawn evenly by weight.
        least_weight: [probability] how much of the hypotheses' weight may go unheeded, spread over the
            others.
        likely_relatives: [groups] of how many designs that the removed part is likeliest a relative of, on no
            file, the members are candidates.
        least_membership: [probability] of belonging to a likely group, below which a part is no candidate.
        most_candidates: [parts] how many are compared at most, beside those asked for.
    """

    not_on_file: float = 0.10
    unlisted_misfit: float = 0.06
    unlisted_misfit_with_number: float = 0.02
    makers_scatter: Mapping[Kind, Scatter] = field(default_factory=lambda: MAKERS_SCATTER)
    scatter_of_allowance: float = 0.125
    gross_error_share: float = 0.02
    choice_error_share: float = 0.02
    least_spread: float = 0.25
    equal_within: float = 0.01
    usual_bolt_play_mm: float = 0.5
    relative_share: float = 0.25
    relative_changes: float = 1.5
    curable_changes: float = 2.5
    relative_near: float = 0.5
    parts_a_group: float = 6.0
    share_count: float = 20.0
    relative_count: float = 60.0
    error_count: float = 50.0
    least_scatter: float = 0.3
    unrelated_agrees: float = 0.5
    agreement_count: float = 4.0
    sheet_right: float = 0.8
    safe_threshold: float = 0.5
    number_carried: float = 0.5
    number_misleads: float = 0.03
    number_stated: float = 14.0
    interchange_truth: float = 0.9
    interchange_changes: float = 0.5
    engine_stated: float = 0.6
    engine_alike_from: float = 0.80
    engine_same_from: float = 0.95
    bolts_on_from: float = 0.80
    fits_from: float = 0.80
    does_not_fit_below: float = 0.05
    work_worth_telling: float = 0.005
    least_gain_bits: float = 0.05
    least_rise: float = 0.01
    most_measurements: int = 5
    likely_hypotheses: int = 48
    sampled_hypotheses: int = 16
    least_weight: float = 0.002
    likely_relatives: int = 32
    least_membership: float = 0.02
    most_candidates: int = 160

    @property
    def grouping(self) -> tuple[float, ...]:
        """The figures that the groups of a catalogue depend on."""
        return (
            self.scatter_of_allowance,
            self.gross_error_share,
            self.choice_error_share,
            self.least_spread,
            self.relative_share,
            self.relative_changes,
            self.curable_changes,
            self.relative_near,
            self.parts_a_group,
            self.share_count,
            self.relative_count,
            self.error_count,
            self.least_scatter,
            self.unrelated_agrees,
            self.agreement_count,
        )
