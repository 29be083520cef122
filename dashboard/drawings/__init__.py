"""Result → Drawing: what is drawn, in the data's own units. Neither plotly nor SVG is known here."""
