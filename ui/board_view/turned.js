// A long board stands upright on a narrow screen: turned by a quarter, its seen left end above.
//
// Shapes keep their own frame (x along the board, y across it); one group turns them all. What the
// screen says in px right and down is turned into px along and across before it is used.

const UPRIGHT_BELOW_PX = 560;
const QUARTER = "matrix(0 1 -1 0 0 0)"; // (x, y) goes to (-y, x)

function standsUpright(root) {
  return root.clientWidth > 0 && root.clientWidth < UPRIGHT_BELOW_PX;
}

const alongAcross = (upright, right, down) => (upright ? [down, -right] : [right, down]);

function viewBoxOf(upright, x, y, along, across) {
  return upright ? `${-y - across} ${x} ${across} ${along}` : `${x} ${y} ${along} ${across}`;
}

// The group that holds all shapes of a drawing.
function sheetOf(svg, upright) {
  let sheet = svg.querySelector(":scope > .turn");
  if (!sheet) svg.append((sheet = drawn("g", { class: "turn" })));
  if (upright) sheet.setAttribute("transform", QUARTER);
  else sheet.removeAttribute("transform");
  return sheet;
}

// Where a pointer is, in the frame of the shapes.
function spotOn(svg, event) {
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(
    svg.querySelector(":scope > .turn").getScreenCTM().inverse(),
  );
  return [at.x, at.y];
}

// The largest type, up to the one wanted, in which rows of words fit a box.
function typeThatFits(rows, box, wanted, upright) {
  const along = Math.max(box.width, upright ? box.height : 0);
  const across = Math.min(box.width, box.height);
  return Math.min(wanted, along / (lettersOf(rows) * 0.6), (across * 0.9) / rows.length);
}

const lettersOf = (rows) => Math.max(1, ...rows.map((row) => row.length));

// What is written and how large: names with all that is told of them where that is no smaller;
// those of slices in one row, or one under the other where that row would be too small.
function rowsThatFit(whole, names, box, least, wanted, upright) {
  const type = (rows) => typeThatFits(rows, box, wanted, upright);
  const rows = type(whole) < type(names) ? names : whole;
  const one = [rows.join(" + ")];
  const chosen = rows.length < 2 || type(one) < least ? rows : one;
  return [chosen, type(chosen)];
}

// A label that reads from left to right wherever it has room to, else along the board.
function layLabel(text, rows, box, size, upright) {
  if (rows.length < 2) setText(text, rows[0] ?? "");
  else
    text.replaceChildren(
      ...rows.map((row, place) => {
        const down = place ? 1.05 : -0.525 * (rows.length - 1);
        const span = drawn("tspan", { x: box.x, dy: `${down}em` });
        span.textContent = row;
        return span;
      }),
    );
  const across = upright && lettersOf(rows) * 0.6 * size <= box.height;
  if (across) text.setAttribute("transform", `rotate(-90 ${box.x} ${box.y})`);
  else text.removeAttribute("transform");
}
