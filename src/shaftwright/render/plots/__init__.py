"""The pictures: each from plain results to a figure of `shaftwright.render.figure`."""
