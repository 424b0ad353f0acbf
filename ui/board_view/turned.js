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

// A label that reads from left to right wherever it has room to, else along the board.
function layLabel(text, box, size, upright) {
  const across = upright && text.textContent.length * 0.6 * size <= box.height;
  if (across) text.setAttribute("transform", `rotate(-90 ${box.x} ${box.y})`);
  else text.removeAttribute("transform");
}
