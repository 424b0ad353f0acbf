// The parts list as a table. What is typed stays in this window until it is kept in the lot; a
// reload does not lose it.

const QUIET_MS = 400;
// More columns than a list of furniture usually has take two lines each row on a small desk.
const USUAL_COLUMNS = 7;

// A size is not broken over two lines; from the least to the most it may be.
const inOnePiece = (size) =>
  size
    .split(" to ")
    .map((one) => one.replaceAll(" ", "\u00a0"))
    .join(" to ");

class Table {
  constructor(root) {
    this.root = root;
    this.tries = 0;
    this.strict = false;
    this.rows = null;
    this.more = new More(this);
    this.folds = new Folds(this);
    this.build();
  }

  build() {
    this.head = element("tr");
    this.body = element("tbody");
    this.table = element("table", {}, element("thead", {}, this.head), this.body);
    this.keepButton = button("Keep this list", () => this.keep(), { class: "main" });
    this.addButton = button("Add a row", () => this.add());
    this.backButton = button("Back to the kept list", () => this.goBack());
    this.message = element("p", { class: "message", role: "status" });
    const legend = element("dl", { class: "legend" });
    for (const [choice, words] of Object.entries(FACES)) {
      legend.append(
        element(
          "div",
          {},
          element("dt", {}, facePicture(choice), choice),
          element("dd", {}, words),
        ),
      );
    }
    const about = element("h3");
    setText(about, "What a part asks of its faces (front beside back)");
    this.root.append(
      element("div", { class: "wide" }, this.table),
      element("div", { class: "bar" }, this.keepButton, this.addButton, this.more.field, this.backButton),
      this.message,
      about,
      legend,
      this.more.about,
      this.more.legend,
    );
    // Streamlit takes single letters of the whole page for itself.
    this.root.addEventListener("keydown", (event) => {
      if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation();
    });
  }

  take(component) {
    this.component = component;
    const { data } = component;
    const first = this.rows === null || this.lot !== data.lot;
    this.data = data;
    this.lot = data.lot;
    if (first) {
      this.more.asked.clear();
      const draft = this.readDraft();
      this.rows = draft?.rows ?? this.keptRows();
      this.isDraft = Boolean(draft);
      // Which kept list it was written over: a file, other units or another window may change it.
      this.over = draft?.over ?? data.stamp;
      if (this.isDraft) this.send();
    } else if (this.waiting && data.kept === this.waiting) {
      this.waiting = null;
      this.isDraft = false;
      this.strict = false;
      this.forgetDraft();
      this.rows = this.keptRows();
    } else if (!this.isDraft && data.stamp !== this.stamp) {
      this.rows = this.keptRows();
    }
    this.stamp = data.stamp;
    this.paint();
  }

  keptRows() {
    const rows = this.data.rows.map((row) => ({ ...row }));
    return rows.length ? rows : [{}, {}, {}];
  }

  // -- what is typed

  change(at, column, text) {
    this.folds.open.add(this.rows[at]);
    this.rows[at][column] = text;
    this.touched();
  }

  paste(event, at, column) {
    const pasted = readPaste(
      event.clipboardData.getData("text"),
      this.more.columnsOf(this.data),
      this.data.known,
      column,
    );
    if (!pasted) return;
    event.preventDefault();
    pasted.forEach((cells, step) => {
      this.rows[at + step] = { ...this.rows[at + step], ...cells };
    });
    this.touched();
    // The cell under the cursor is painted by nobody else.
    event.target.value = this.rows[at][column] ?? "";
    this.paint();
  }

  add() {
    this.rows.push({});
    this.touched();
    this.paint();
    this.body.lastChild.querySelector("input").focus();
  }

  remove(at) {
    this.rows.splice(at, 1);
    if (!this.rows.length) this.rows.push({});
    this.touched();
    this.paint();
  }

  goBack() {
    this.isDraft = false;
    this.strict = false;
    this.forgetDraft();
    this.rows = this.keptRows();
    this.send();
    this.paint();
  }

  touched() {
    if (!this.isDraft) this.over = this.stamp;
    this.isDraft = true;
    try {
      const draft = { rows: this.rows, over: this.over };
      sessionStorage.setItem(this.draftName(), JSON.stringify(draft));
    } catch {
      // No storage: the rows still live here.
    }
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), QUIET_MS);
    this.paintBar();
  }

  draftName() {
    return `bothfaces-parts:${this.lot}`;
  }

  readDraft() {
    try {
      return JSON.parse(sessionStorage.getItem(this.draftName()));
    } catch {
      return null;
    }
  }

  forgetDraft() {
    clearTimeout(this.timer);
    try {
      sessionStorage.removeItem(this.draftName());
    } catch {
      // Nothing was stored.
    }
  }

  nextName() {
    this.tries += 1;
    return `${Date.now()}-${this.tries}`;
  }

  send() {
    this.asked = this.nextName();
    this.component.setStateValue("table", { n: this.asked, rows: this.rows });
  }

  keep() {
    this.strict = true;
    clearTimeout(this.timer);
    this.waiting = this.nextName();
    this.component.setStateValue("keep", { n: this.waiting, rows: this.rows });
    this.paint();
  }

  // -- drawing

  // What is empty is asked for once the list is to be kept.
  mistakes() {
    const all = this.data.reading?.mistakes ?? [];
    return all.filter((one) => this.strict || !one.is_empty);
  }

  mistakeAt(at, column) {
    return this.mistakes().find((one) => one.row === at && one.column === column)?.what ?? "";
  }

  paint() {
    const columns = this.more.columnsOf(this.data);
    this.more.paint(columns);
    this.table.classList.toggle("many", columns.length > USUAL_COLUMNS);
    keyed(
      this.head,
      [...columns, "rough", "out"],
      (column) => column,
      () => element("th", { scope: "col" }),
      (node, column) => {
        if (column === "rough") setText(node, "Rough size");
        else if (column !== "out") setText(node, titleOf(column));
      },
    );
    keyed(
      this.body,
      this.rows.map((row, at) => ({ row, at })),
      ({ at }) => String(at),
      () => element("tr"),
      (line, { row, at }) => this.paintRow(line, row, at, columns),
    );
    this.paintBar();
  }

  paintRow(line, row, at, columns) {
    keyed(
      line,
      ["fold", ...columns, "rough", "out"],
      (column) => column,
      (column) => this.makeCell(line, column),
      (cell, column) => {
        if (column === "fold") this.folds.paint(line, cell, row, at);
        else if (column === "rough") {
          setText(cell.lastChild, inOnePiece(this.data.reading?.rough[at] ?? ""));
        } else if (column === "out") {
          cell.firstChild.setAttribute("aria-label", `Take row ${at + 1} out`);
        } else this.paintCell(cell, column, row[column] ?? "", at);
      },
    );
    line.dataset.at = at;
  }

  makeCell(line, column) {
    if (column === "fold") return this.folds.makeCell(line);
    const cell = element("td", { class: column });
    const at = () => Number(line.dataset.at);
    if (column === "out") {
      cell.append(button("×", () => this.remove(at())));
      return cell;
    }
    const label = element("span", { class: "of", "aria-hidden": "true" });
    setText(label, column === "rough" ? "Rough size" : titleOf(column));
    if (column === "rough") {
      cell.append(label, element("output"));
      return cell;
    }
    let field;
    if (column === "faces") {
      field = element("select", { onchange: (e) => this.changeFaces(at(), e.target.value) });
      field.append(element("option", { value: "" }));
      for (const choice of Object.keys(FACES)) {
        const option = element("option", { value: choice });
        setText(option, choice);
        field.append(option);
      }
    } else {
      field = element("input", {
        type: "text",
        autocomplete: "off",
        inputmode: column === "quantity" ? "numeric" : false,
        oninput: (event) => this.change(at(), column, event.target.value),
        onpaste: (event) => this.paste(event, at(), column),
      });
    }
    cell.append(label, field, element("span", { class: "mend" }));
    return cell;
  }

  changeFaces(at, choice) {
    this.change(at, "faces", choice);
    this.paint();
  }

  paintCell(cell, column, text, at) {
    const field = cell.querySelector("input, select");
    const mend = cell.querySelector(".mend");
    const wrong = this.mistakeAt(at, column);
    const root = this.root.getRootNode();
    // Never written over while the cursor stands in it.
    if (field.value !== text && root.activeElement !== field) field.value = text;
    // A long text is cut off in its cell.
    field.title = column === "faces" ? "" : text;
    field.setAttribute("aria-label", `${titleOf(column)}, row ${at + 1}`);
    field.setAttribute("aria-invalid", wrong ? "true" : "false");
    mend.id = `mend-${at}-${column}`;
    if (wrong) field.setAttribute("aria-describedby", mend.id);
    else field.removeAttribute("aria-describedby");
    setText(mend, wrong);
    if (column === "faces") {
      let picture = cell.querySelector(".face-picture");
      if (picture?.dataset.choice !== text) {
        picture?.remove();
        if (text in FACES) {
          picture = facePicture(text);
          picture.dataset.choice = text;
          field.after(picture);
        }
      }
    }
  }

  paintBar() {
    this.backButton.hidden = !this.isDraft || !this.data.rows.length;
    this.keepButton.disabled = !this.isDraft;
    const reading = this.data.reading;
    const wrong = this.mistakes().length;
    let words = "";
    if (wrong)
      words = `${wrong === 1 ? "One cell is" : `${wrong} cells are`} to mend; the list is not kept yet.`;
    else if (this.isDraft) words = "Not kept yet.";
    else if (reading?.pieces) words = `Kept: ${reading.pieces} pieces.`;
    if (this.isDraft && this.over !== this.data.stamp)
      words += " Meanwhile the kept list changed: this one would take its place.";
    setText(this.message, words);
    this.message.classList.toggle("wrong", wrong > 0);
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".parts");
  root.owner ??= new Table(root);
  root.owner.take(component);
  return () => {
    clearTimeout(root.owner?.timer);
    root.owner = null;
    root.replaceChildren();
  };
}
