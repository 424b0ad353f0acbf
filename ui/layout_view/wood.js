// A board of the layout: the face with its wood, and the parts on it.

// Smaller than this a part cannot be taken in hand; the board then scrolls sideways.
const [LEAST_PX_PER_MM, LEAST_FOR_A_FINGER] = [0.3, 0.6];
const EMPTY_PX_PER_MM = 0.2;
const FINGER = matchMedia("(pointer: coarse)");

// Of a slice the face that the resaw opens shows, whichever face the board turns up.
const showWords = ({ layer, show_face }) =>
  show_face ? (layer ? "the sawn face shows" : `face ${show_face} shows`) : "";
const ofOneBlank = (one, other) =>
  Boolean(one?.layer && other?.layer) &&
  one.board === other.board &&
  one.x === other.x &&
  one.y === other.y;
const nameOf = (part) => `${part.part}|${part.copy}|${part.stave}`;

function makeWood(tool, board) {
  const svg = drawn("svg", { role: "group", "aria-label": `Parts on ${board.id}` });
  const scroll = element("div", { class: "scroll" }, svg);
  const head = element("p", { class: "of" }, element("b"), element("span"));
  const look = button("Flaws", () => tool.toFlaws(board.id), {
    "aria-label": `Look at the flaws of ${board.id}`,
  });
  const verdict = element("p", { class: "verdict", role: "status" });
  const node = element(
    "li",
    {},
    element("div", { class: "head" }, head, look),
    scroll,
    element("div", { class: "under" }, element("p", { class: "ends" }), verdict),
  );
  Object.assign(node, { svg, scroll, verdict });
  sheetOf(svg, false).append(drawn("g", { class: "parts" }), drawn("g", { class: "ghost" }));
  return node;
}

function paintWood(tool, node, board) {
  const { svg, scroll } = node;
  const face = faceOf(tool, board);
  const [x0, y0, x1, y1] = face.frame;
  const { upright } = tool;
  const pxPerMm = upright
    ? uprightScale(node, board, y1 - y0)
    : lyingScale(scroll, board, x1 - x0);
  svg.setAttribute("viewBox", viewBoxOf(upright, x0, y0, x1 - x0, y1 - y0));
  svg.style.width = `${(upright ? y1 - y0 : x1 - x0) * pxPerMm}px`;
  node.mmPerPx = 1 / pxPerMm;
  const [name, about] = node.querySelector(".of").children;
  setText(name, board.id);
  const empty = board.parts.length ? "" : " · no part lies here";
  const ends =
    face.mirror === "x"
      ? `end A ${upright ? "below" : "right"}`
      : `end A ${upright ? "above" : "left"}`;
  setText(about, `${board.head} · face ${face.number}, ${ends}${empty}`);
  setText(node.querySelector(".ends"), board.ends.join(" "));
  const options = { showParts: false, upright };
  paintFace(svg, face, { parts: [], flaws: board.flaws, layout: "" }, null, options);
  const sheet = sheetOf(svg, upright);
  const [parts, ghost] = [svg.querySelector(".parts"), svg.querySelector(".ghost")];
  // Over the face; what is moved in the page loses the focus, so only where it must be.
  if (sheet.lastChild !== ghost) sheet.append(parts, ghost);
  keyed(
    parts,
    board.parts,
    nameOf,
    (part) => makePart(tool, board.id, part),
    (group, part) => paintPart(tool, node, group, board, part, face),
  );
}

// Lying, a board fills the width, and scrolls sideways only where a mouse could not take its parts.
function lyingScale(scroll, board, length) {
  const whole = (scroll.clientWidth || 900) / length;
  if (!board.parts.length) return whole;
  return Math.max(whole, FINGER.matches ? LEAST_FOR_A_FINGER : LEAST_PX_PER_MM);
}

// Upright, two stand beside each other; one without parts needs no room for fingers.
function uprightScale(node, board, width) {
  const most = board.parts.length ? LEAST_FOR_A_FINGER : EMPTY_PX_PER_MM;
  return Math.min((node.clientWidth || 160) / width, most);
}

function makePart(tool, board, part) {
  const group = drawn("g", { tabindex: "0", role: "button" });
  group.append(drawn("polygon"), drawn("g", { class: "dogs" }), drawn("text", { class: "label" }));
  group.addEventListener("click", () => tool.tapped(tool.inHand(group.placed)));
  group.addEventListener("keydown", (event) => onPartKey(tool, group.placed, event));
  return group;
}

function paintPart(tool, node, group, board, part, face) {
  group.placed = part;
  const [shape, dogs, text] = group.children;
  const ring = ringOf(board, part, face);
  const box = boxOf((!part.moved && part.view.rooms[face.number]) || ring);
  // Of slices over each other only the upper one's border is seen.
  const isChosen = tool.inHand(part) === tool.chosen();
  const state = part.stays || "planned";
  group.setAttribute("class", `laid ${tool.data.layout} ${state}${isChosen ? " chosen" : ""}`);
  group.setAttribute("aria-pressed", tool.chosen() === part);
  const said = [`${part.label} on ${board.id}`, part.size, showWords(part)];
  group.setAttribute("aria-label", said.filter(Boolean).join(", "));
  shape.setAttribute("points", corners(ring));
  // Bench dogs hold what stays: told by shape, not by colour alone.
  const dog = 7 * node.mmPerPx;
  const at = part.stays ? cornersOf(ring) : [];
  dogs.replaceChildren(
    ...at.map(([x, y]) =>
      drawn("rect", { x: x - dog / 2, y: y - dog / 2, width: dog, height: dog }),
    ),
  );
  const face_word = part.show_face && !part.layer
    ? part.show_face === face.number
      ? " · show"
      : " · back"
    : "";
  const [size, least] = [13 * node.mmPerPx, 8 * node.mmPerPx];
  const names = part.moved && !part.layer ? [part.label] : part.view.written;
  const whole = names.map((name) => name + (names.length === 1 ? face_word : ""));
  const [rows, fits] = rowsThatFit(whole, names, box, least, size, tool.upright);
  for (const [name, value] of Object.entries({
    x: box.x,
    y: box.y,
    "font-size": fits,
    "stroke-width": 3 * node.mmPerPx,
  }))
    text.setAttribute(name, value);
  layLabel(text, fits >= least ? rows : [], box, fits, tool.upright);
}

// A curve is held where it comes nearest to the corners of its rectangle.
function cornersOf(ring) {
  if (ring.length <= 4) return ring;
  const { x0, x1, y0, y1 } = boxOf(ring);
  const far = ([x, y], [u, v]) => Math.hypot(x - u, y - v);
  return [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ].map((corner) => ring.reduce((a, b) => (far(b, corner) < far(a, corner) ? b : a)));
}

function faceOf(tool, board) {
  return board.faces.find((one) => one.number === tool.look.face) ?? board.faces[0];
}

// -- between the board's frame and what a person sees of a face

function seenSpot(board, face, [x, y]) {
  const [length, width] = board.span;
  if (face.mirror === "x") return [length - x, y];
  if (face.mirror === "y") return [x, width - y];
  return [x, y];
}

// Mirroring is its own way back.
const boardSpot = seenSpot;

function ringOf(board, part, face) {
  if (!part.moved) return part.view.rings[face.number];
  return seenRing(board, face, [part.x, part.y], part);
}

// The ground of a part whose corner lies at a place of the board, turned about that corner.
function seenRing(board, face, [x, y], part, angle = part.angle) {
  const turn = ((angle ?? 0) * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  return [
    [0, 0],
    [part.length, 0],
    [part.length, part.width],
    [0, part.width],
  ].map(([along, across]) =>
    seenSpot(board, face, [x + along * cos - across * sin, y + along * sin + across * cos]),
  );
}
