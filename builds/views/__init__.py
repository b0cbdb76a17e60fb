"""The pages: each view reads the form or the path, calls one service or selector, and renders."""
