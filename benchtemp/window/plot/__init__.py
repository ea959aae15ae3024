"""The temperature trace: what is in view, how it is drawn, how it is told in words."""
