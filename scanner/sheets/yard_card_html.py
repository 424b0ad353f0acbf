"""The yard card as one HTML file that needs nothing else: it works on a phone without a signal."""

import json
from collections.abc import Sequence
from html import escape

from scanner.lot.yard_card import CardSection
from scanner.sheets.yard_card_page import (
    FACES_MEAN,
    NO_PROMISE_AT_THE_RACK,
    faces_lines,
    fact_lines,
    headings,
    row_cells,
    section_title,
)
from scanner.units import MM_PER_INCH, unbroken

_STYLE = """
:root{color-scheme:light dark;--ink:#1d1a16;--paper:#fbf8f2;--line:#cfc6b6;--own:#005c4b}
@media(prefers-color-scheme:dark){:root{--ink:#f1ece2;--paper:#1b1916;--line:#4b4539;--own:#5fc2a8}}
body{margin:0;padding:16px;background:var(--paper);color:var(--ink);
font:18px/1.45 system-ui,sans-serif;max-width:46rem}
h1{font-size:1.5rem;margin:0 0 .5rem}h2{font-size:1.15rem;margin:1.6rem 0 .4rem}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;padding:.45rem .3rem;border-bottom:1px solid var(--line)}
th{font-weight:600;font-size:.8rem}
td.n,th.n{text-align:right}td.n{white-space:nowrap}
label{display:inline-block;margin:.2rem .6rem .2rem 0}
input{font:inherit;width:5.5rem;padding:.4rem;border:1px solid var(--line);border-radius:6px;
background:transparent;color:inherit;min-height:44px;box-sizing:border-box}
output{display:block;font-weight:600;color:var(--own);min-height:1.5em}
li{margin:.2rem 0}
"""
# What a person at the rack asks: which of the parts does a clear board of this size give? Strips
# side by side, pieces one after the other, a kerf between; one kind of part at a time.
_SCRIPT = """
const card=JSON.parse(document.getElementById('card').textContent);
function number(text){
  const m=text.trim().replace(',','.').match(/^(\\d+(?:\\.\\d+)?)?(?:\\s*(\\d+)\\/(\\d+))?$/);
  if(!m||(!m[1]&&!m[2]))return NaN;
  return (m[1]?parseFloat(m[1]):0)+(m[2]?m[2]/m[3]:0);
}
document.querySelectorAll('form').forEach((form,i)=>{
  const say=form.querySelector('output');
  form.addEventListener('submit',event=>event.preventDefault());
  form.addEventListener('input',()=>{
    const told=number(form.width.value)*card.unit_mm, long=number(form.length.value)*card.long_mm;
    const wide=told-card.edges;
    /* What is only half typed, "7 1/", is not wrong yet. */
    const wrong=[form.width,form.length].find(f=>/[^\\d\\s.,/]/.test(f.value));
    if(wrong){say.textContent='"'+wrong.value.trim()+'" is no size here: type it like '+
      (wrong===form.width?card.like:card.long_like)+', without a unit.';return;}
    if(!(told>0&&long>0)){say.textContent='';return;}
    const gives=card.sections[i].map(p=>{
      const across=Math.floor((wide+card.kerf)/(p.width+card.kerf));
      const along=Math.floor((long-2*card.trim+card.kerf)/(p.length+card.kerf));
      return [p.name,Math.min(Math.max(across,0)*Math.max(along,0),p.count)];
    }).filter(pair=>pair[1]>0);
    say.textContent=gives.length?'If it is clear, it gives one of these: '+
      gives.map(pair=>pair[1]+' \u00d7 '+pair[0]).join(', '):'It gives none of these parts.';
  });
});
"""


def yard_card_html(
    sections: Sequence[CardSection],
    units: str,
    kerf_mm: float,
    trim_mm: float,
    currency: str = "",
) -> str:
    """Return the file's text.

    Parameters
    ----------
    kerf_mm, trim_mm
        The shop's saw kerf, and what an end loses that nobody has looked at yet.
    """
    facts = {
        "unit_mm": MM_PER_INCH if units == "inch" else 1.0,
        "long_mm": 12 * MM_PER_INCH if units == "inch" else 1.0,
        "like": "7 1/2" if units == "inch" else "190",
        "long_like": "8 1/2" if units == "inch" else "2440",
        "kerf": kerf_mm,
        "trim": trim_mm,
        "edges": sections[0].edges_mm if sections else 0.0,
        "sections": [
            [
                {"name": r.name, "count": r.count, "length": r.length_mm, "width": r.width_mm}
                for r in section.rows
            ]
            for section in sections
        ],
    }
    body = "".join(_section(section, units, currency) for section in sections)
    means = "".join(f"<li>{escape(line)}</li>" for line in faces_lines(sections))
    # A part's name may hold anything: "</" would end the block of data.
    data = json.dumps(facts).replace("</", "<\\/")
    return (
        "<!DOCTYPE html><html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width,initial-scale=1'>"
        f"<title>Yard card</title><style>{_STYLE}</style></head><body>"
        f"<h1>Yard card</h1><p>{escape(NO_PROMISE_AT_THE_RACK)}</p>{body}"
        f"<h2>{FACES_MEAN}</h2><ul>{means}</ul>"
        f"<script type='application/json' id='card'>{data}</script><script>{_SCRIPT}</script>"
        "</body></html>\n"
    )


def _section(section: CardSection, units: str, currency: str) -> str:
    numeric = [column.anchor == "end" for column in headings(units)]
    head = "".join(
        f"<th{' class=n' if right else ''}>{escape(column.heading)}</th>"
        for column, right in zip(headings(units), numeric, strict=True)
    )
    rows = "".join(
        "<tr>"
        + "".join(
            f"<td{' class=n' if right else ''}>{escape(unbroken(cell))}</td>"
            for cell, right in zip(row_cells(index, section, units), numeric, strict=True)
        )
        + "</tr>"
        for index in range(len(section.rows))
    )
    facts = "".join(
        f"<li>{escape(unbroken(line))}</li>" for line in fact_lines(section, units, currency)
    )
    across, along = ("in", "ft") if units == "inch" else ("mm", "mm")
    ask = (
        "<form><p>Will this board do?</p>"
        f"<label>clear width, {across} <input name=width inputmode=decimal></label>"
        f"<label>length, {along} <input name=length inputmode=decimal></label>"
        "<output></output></form>"
    )
    return (
        f"<h2>{escape(section_title(section.need))}</h2><table><tr>{head}</tr>{rows}</table>"
        f"<ul>{facts}</ul>{ask}"
    )
