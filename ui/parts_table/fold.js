// On a phone a row with all it needs is one line, which a tap opens: a list of ten parts was seven
// screens long.

const NEEDED = ["name", "quantity", "length", "width", "thickness"];

class Folds {
  constructor(table) {
    this.table = table;
    // Rows that were opened, or are being written: nothing closes under a finger.
    this.open = new WeakSet();
  }

  makeCell(line) {
    const turn = () => this.turn(Number(line.dataset.at));
    const fold = button("", turn, { class: "fold" });
    fold.append(element("b"), element("span", { class: "sizes" }), element("span", { class: "faces" }));
    return element("td", { class: "fold" }, fold);
  }

  turn(at) {
    const row = this.table.rows[at];
    if (this.open.has(row)) this.open.delete(row);
    else this.open.add(row);
    this.table.paint();
  }

  paint(line, cell, row, at) {
    const isWhole = NEEDED.every((column) => row[column]?.trim());
    const isWrong = this.table.mistakes().some((one) => one.row === at);
    const isFolded = isWhole && !isWrong && !this.open.has(row);
    line.classList.toggle("folded", isFolded);
    cell.hidden = !isWhole || isWrong;
    if (!isWhole) return;
    const fold = cell.firstChild;
    fold.setAttribute("aria-expanded", isFolded ? "false" : "true");
    const [name, sizes, faces] = fold.children;
    setText(name, row.quantity === "1" ? row.name : `${row.quantity} × ${row.name}`);
    const size = [row.length, row.width, row.thickness].map(inOnePiece).join(" × ");
    setText(sizes, [size, row.species].filter(Boolean).join(" · "));
    if (faces.dataset.choice === row.faces) return;
    faces.dataset.choice = row.faces;
    faces.replaceChildren(...(row.faces in FACES ? [facePicture(row.faces), row.faces] : []));
  }
}
