"""Charts: data once, drawn twice, as SVG here and by the library in the browser."""
