// What a part may ask for besides what every list has: a column for each, shown once it is asked
// for. Words for every column that the table has no heading of its own for.

const MORE = {
  match: "the name of a set that lies side by side; add :in_order or :bookmatch",
  spares: "how many more, where that costs nothing",
  priority: "how much it counts: 2 counts twice",
  max_knot: "the largest sound knot it may carry",
  sapwood: "no, back (not on the face that shows) or any",
  straight_grain: "1 in 15, or follow: turned with the grain",
  staves: "glued up from so many of one board, or auto",
  length_min: "how short it may get where that places more",
  length_max: "how long it may get, to be equal with another row",
  width_min: "how narrow it may get where that places more",
  width_max: "how wide it may get, to be equal with another row",
  equal: "rows of one name here share one size",
  length_allowance: "rough length more than finished, instead of the shop’s",
  width_allowance: "rough width more than finished, instead of the shop’s",
  filler: "yes: only from what the other parts leave over",
  only_boards: "the boards it may come from: B01 B02",
  not_boards: "the boards it may not come from: B01 B02",
  job: "the piece of furniture it belongs to",
  note: "your own words",
};

class More {
  constructor(table) {
    this.table = table;
    this.asked = new Set();
    this.field = element("select", {
      "aria-label": "Ask more of the parts",
      onchange: (event) => this.ask(event.target.value),
    });
    this.about = element("h3");
    setText(this.about, "What else the columns mean");
    this.legend = element("dl", { class: "legend" });
  }

  // In the order of the list's file, whatever was asked for first.
  columnsOf({ columns, known }) {
    return known.filter((column) => columns.includes(column) || this.asked.has(column));
  }

  ask(column) {
    this.asked.add(column);
    // It is written into each part in turn.
    for (const row of this.table.rows) this.table.folds.open.add(row);
    this.table.paint();
    this.table.body.querySelector(`td.${column} input`)?.focus();
  }

  paint(columns) {
    const left = ["", ...Object.keys(MORE).filter((column) => !columns.includes(column))];
    keyed(
      this.field,
      left,
      (column) => column,
      (column) => {
        const option = element("option", { value: column });
        setText(option, column ? `${titleOf(column)}: ${MORE[column]}` : "Ask for more …");
        return option;
      },
      () => {},
    );
    this.field.value = "";
    this.field.hidden = left.length === 1;
    const shown = columns.filter((column) => column in MORE);
    this.about.hidden = !shown.length;
    keyed(
      this.legend,
      shown,
      (column) => column,
      (column) => {
        const [name, words] = [element("dt"), element("dd")];
        setText(name, titleOf(column));
        setText(words, MORE[column]);
        return element("div", {}, name, words);
      },
      () => {},
    );
  }
}
