"""Reads a screen as text; the one place that looks behind Textual's public face."""

from textual.app import App


def screen_text(app: App[None]) -> str:
    """What is on screen, line by line, without colours and without trailing blanks."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text.rstrip() for strip in strips)


def struck_text(app: App[None]) -> str:
    """What is on screen with a line drawn through it, line by line."""
    strips = app.screen._compositor.render_strips()
    lines = (
        "".join(each.text for each in strip if each.style and each.style.strike) for strip in strips
    )
    return "\n".join(line.strip() for line in lines if line.strip())
