"""One Drawing, two renderings: SVG text for strips and paper, a plotly figure for the screen."""
