// What the columns are called, what the `faces` choices look like, and how a paste is read.

const TITLES = {
  name: "Part",
  quantity: "How many",
  length: "Length",
  width: "Width",
  thickness: "Thickness",
  faces: "Faces",
  species: "Species",
};
const inWords = (column) => column.replaceAll("_", " ");
const titleOf = (column) =>
  TITLES[column] ?? inWords(column).replace(/^./, (letter) => letter.toUpperCase());

const FACES = {
  both: "clear on both faces",
  show: "one face clear, flaws may sit on the back if they do not come through",
  sound: "knots and stain may show where they do not weaken it",
  hidden: "as sound, and a little wane along one edge",
};

// A part seen from its show face, its back beside it: dots are knots, the dark corner is wane.
function facePicture(choice) {
  const svg = drawn("svg", { viewBox: "0 0 92 34", class: "face-picture", "aria-hidden": "true" });
  const piece = (x) => svg.append(drawn("rect", { x, y: 3, width: 42, height: 28, rx: 1 }));
  const knot = (x, y) => svg.append(drawn("ellipse", { cx: x, cy: y, rx: 5, ry: 3.4 }));
  piece(2);
  piece(48);
  if (choice === "show") knot(68, 17);
  if (choice === "sound" || choice === "hidden") {
    knot(16, 13);
    knot(62, 13);
    knot(78, 23);
  }
  if (choice === "hidden") svg.append(drawn("path", { d: "M48 31 L48 27 Q70 24 90 29 L90 31 Z" }));
  return svg;
}

// Rows and cells of what a spreadsheet puts on the clipboard; null where it is a single text.
function readPaste(text, columns, known, from) {
  const lines = text.replace(/\r/g, "").replace(/\n+$/, "").split("\n");
  if (lines.length === 1 && !text.includes("\t")) return null;
  const cells = lines.map((line) => line.split("\t").map((cell) => cell.trim()));
  const named = cells[0].map((cell) =>
    known.find((column) => [column.replaceAll("_", " "), column, titleOf(column).toLowerCase()].includes(cell.toLowerCase())),
  );
  const hasHeader = named.every(Boolean);
  const start = columns.indexOf(from);
  const order = hasHeader ? named : columns.slice(start);
  return (hasHeader ? cells.slice(1) : cells).map((line) =>
    Object.fromEntries(line.map((cell, at) => [order[at], cell]).filter(([column]) => column)),
  );
}
