"""Where each table and key of a TOML text stands; the standard library's parser tells no lines.

The text has been parsed before, so only well-formed TOML comes here.
"""

import re
from collections.abc import Iterator, Mapping

Path = tuple[str | int, ...]
"""A place in a file: ("dimension", 2, "cure", "minutes") is the minutes of the third dimension's cure."""

_TOKEN = re.compile(
    r"""
      (?P<string> \"{3} (?:\\.|[^\\])*? \"{3,5}(?!\") | '{3} .*? '{3,5}(?!')
                | \" (?:\\.|[^\"\\])* \" | ' [^']* ' )
    | (?P<comment> \#[^\n]* )
    | (?P<open> [\[{] ) | (?P<close> [\]}] ) | (?P<newline> \n )
    """,
    re.VERBOSE | re.DOTALL,
)
_NAME = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_NAMES = rf"({_NAME}(?:[ \t]*\.[ \t]*{_NAME})*)"
_HEADER = re.compile(rf"\s*(\[\[?)[ \t]*{_NAMES}[ \t]*\]")
_KEY = re.compile(rf"\s*{_NAMES}[ \t]*=")


def locate(text: str) -> Mapping[Path, int]:
    """Return the line, counted from 1, of every table header and every key in a well-formed TOML text."""
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    for line, statement in _list_statements(text):
        if header := _HEADER.match(statement):
            *outer, last = _split(header[2])
            table = ()
            for name in outer:
                table = _enter((*table, name), counts)
            path: Path = (*table, last)
            if header[1] == "[[":
                counts[path] = counts.get(path, -1) + 1
                lines.setdefault(path, line)
            table = _enter(path, counts)
            lines[table] = line
        elif key := _KEY.match(statement):
            path = table
            for name in _split(key[1]):
                path = (*path, name)
                lines.setdefault(path, line)
    return lines


def get_line(lines: Mapping[Path, int], path: Path) -> int:
    """Return the line of a path, else of the nearest table around it, else 1."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


def _list_statements(text: str) -> Iterator[tuple[int, str]]:
    """Yield each header or assignment with its first line; strings and brackets may span lines."""
    depth = 0
    start = 0
    line = 1
    for token in _TOKEN.finditer(text + "\n"):
        match token.lastgroup:
            case "open":
                depth += 1
            case "close":
                depth -= 1
            case "newline" if depth == 0:
                yield line, text[start : token.start()]
                line += text.count("\n", start, token.end())
                start = token.end()
            case _:
                pass


def _enter(path: Path, counts: Mapping[Path, int]) -> Path:
    """Return the path of the table itself: of an array of tables, the newest."""
    return (*path, counts[path]) if path in counts else path


def _split(names: str) -> list[str]:
    return [name.strip("\"'") for name in re.findall(_NAME, names)]
