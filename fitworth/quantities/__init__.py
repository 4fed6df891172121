"""Numbers as people write them, with unit and uncertainty; money in minor units."""
