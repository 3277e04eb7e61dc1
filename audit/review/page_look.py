"""The look of the page: one style sheet, made from the palette."""

from __future__ import annotations

from audit.charts.palette import BAND, GRID, INK, LINE, PAPER, QUIET, TONES

__all__ = ["piece", "style_sheet", "whole_page"]


def style_sheet() -> str:
    """Return the style sheet of the page, for screen and print."""
    tones = "\n".join(
        f".{severity}{{background:{tone.fill};text-decoration:underline {tone.underline} {tone.mark};"
        f"text-underline-offset:.15em}}\n"
        f"td.{severity}{{box-shadow:inset 0 0 0 1.5px {tone.mark}}}\n"
        f"b.{severity}{{color:{tone.mark};background:none;text-decoration:none}}"
        for severity, tone in TONES.items()
    )
    return f"""
:root{{color-scheme:light}}
body{{margin:2rem auto;max-width:80rem;padding:0 1.25rem;background:{PAPER};color:{INK};
font:16px/1.5 Georgia,"Times New Roman",serif}}
h1{{font-size:1.6rem;line-height:1.25;margin:0 0 .5rem}}
h2{{font-size:1.2rem;margin:2.2rem 0 .6rem;padding-top:.6rem;border-top:3px solid {BAND}}}
h3{{font-size:1rem;font-weight:600;margin:1.1rem 0 .3rem}}
h4{{font-size:.9rem;font-weight:600;margin:.9rem 0 .2rem}}
p,li{{max-width:46rem}}
.lead{{font-size:1.15rem}}
.quiet,caption,figcaption{{color:{QUIET};font-size:.85rem}}
a{{color:{LINE}}}
code,td,th,svg{{font-family:Helvetica,Arial,sans-serif}}
code{{font-size:.8rem;color:{QUIET}}}
th code{{overflow-wrap:anywhere}}
table{{border-collapse:collapse;margin:.4rem 0 1rem;font-size:.82rem;font-variant-numeric:tabular-nums}}
caption{{text-align:left;white-space:nowrap;padding-bottom:.25rem}}
th,td{{border-bottom:1px solid {GRID};padding:.2rem .55rem;text-align:left;vertical-align:top}}
thead th{{border-bottom:2px solid {BAND};color:{QUIET};font-weight:normal;white-space:nowrap}}
tbody th{{font-weight:normal;color:{QUIET}}}
td.n,th.n{{text-align:right}}
.typed{{overflow-x:auto}}
.typed td{{white-space:nowrap;max-width:16rem;overflow:hidden;text-overflow:ellipsis}}
.typed tr.at th{{color:{INK};font-weight:bold}}
tr.gap td{{border:0;padding:0 .55rem;line-height:1;color:{QUIET}}}
td.w{{font-weight:bold}}
{tones}
.found{{list-style:none;padding:0;margin:.2rem 0 .5rem}}
.found li{{margin:.35rem 0;padding-left:.7rem;border-left:3px solid {GRID}}}
.found small{{display:block;color:{QUIET};font-size:.82rem}}
details{{margin:.35rem 0;border:1px solid {GRID};border-radius:2px;padding:.25rem .8rem}}
details[open]{{padding-bottom:.6rem}}
summary{{cursor:pointer;padding:.2rem 0}}
summary strong{{display:inline-block;min-width:6rem}}
.boxes{{columns:5 9rem;list-style:none;padding:0;font-size:.9rem}}
figure{{margin:1.2rem 0}}
figure svg{{max-width:100%;height:auto}}
.caution{{border-left:6px solid {BAND};padding:.2rem 1rem}}
@media screen and (max-width:40rem){{table{{display:block;overflow-x:auto}}
th code{{overflow-wrap:break-word}}}}
@media print{{
@page{{size:A4 landscape;margin:12mm}}
body{{margin:0;max-width:none;padding:0;font-size:10pt}}
details:not(.aside)::details-content{{content-visibility:visible;block-size:auto}}
.typed{{overflow:visible}}
.typed table{{font-size:7.5pt}}
.typed td,.typed th{{white-space:normal;max-width:9rem;padding:.1rem .22rem}}
figure,.typed,tr,td,th,.found li{{break-inside:avoid}}
figure,table,td,th,.found li{{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
h2,h3,caption,summary{{break-after:avoid}}
.boxes{{display:none}}
a{{color:inherit;text-decoration:none}}
}}
"""


def piece(body: str) -> str:
    """Return safe HTML as a piece for use in another page, with this look: on paper in a dark one, too."""
    paper = f"background:{PAPER};color:{INK};padding:.1rem .4rem"
    return (
        f'<div class="nestproof" style="{paper}"><style>.nestproof{{{style_sheet()}}}</style>\n{body}</div>'
    )


def whole_page(title: str, body: str, style: str = "") -> str:
    """Return a page that stands alone: nothing to fetch, nothing to run.

    Parameters
    ----------
    title, body : str
        Safe HTML.
    style : str
        Further lines of style.
    """
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style_sheet()}{style}</style>
</head>
<body>
<main>
<h1>{title}</h1>
{body}
</main>
</body>
</html>
"""
