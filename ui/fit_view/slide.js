// A piece slid along its board under the finger: the grain moves, the piece stays where it is.
// Dragged onto another piece, both change places.

const A_TAP_PX = 6;
const [STEP_MM, LONG_STEP_MM] = [5, 50];
const REACH_MM = 1;
const ANSWER_MS = 1500;

function listenToPieces(fit) {
  const { svg } = fit;
  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    const piece = event.target.closest?.(".piece")?.piece;
    if (!piece || fit.isWaiting()) return;
    // A finger scrolls the page unless the piece was chosen before.
    if (event.pointerType === "touch" && !fit.isChosen(piece)) return;
    svg.setPointerCapture(event.pointerId);
    fit.hold = { piece, pointer: event.pointerId, begun: spotOf(fit, event), by: 0 };
  });
  svg.addEventListener(
    "touchstart",
    (event) => {
      const piece = event.target.closest?.(".piece")?.piece;
      if (piece && fit.isChosen(piece)) event.preventDefault();
    },
    { passive: false },
  );
  svg.addEventListener("pointermove", (event) => dragPiece(fit, event));
  svg.addEventListener("pointerup", (event) => {
    const { hold } = fit;
    if (hold?.pointer !== event.pointerId) return;
    fit.dropped = Date.now();
    if (!hold.moving) {
      fit.hold = null;
      fit.release();
      fit.choose(hold.piece);
    } else if (hold.onto) changePlaces(fit, hold.piece, hold.onto);
    else putThere(fit);
  });
  svg.addEventListener("pointercancel", () => leaveIt(fit));
}

function spotOf(fit, event) {
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(
    fit.svg.getScreenCTM().inverse(),
  );
  return [at.x, at.y];
}

function dragPiece(fit, event) {
  const { hold } = fit;
  if (hold?.pointer !== event.pointerId) return;
  const at = spotOf(fit, event);
  const far = Math.hypot(at[0] - hold.begun[0], at[1] - hold.begun[1]);
  if (!hold.moving && far < A_TAP_PX * fit.mmPerPx) return;
  hold.moving = true;
  fit.chosen = hold.piece.number;
  const other = pieceUnder(fit, at);
  hold.onto = other && other.number !== hold.piece.number ? other : null;
  const { piece } = hold;
  const along = piece.upright ? hold.begun[1] - at[1] : at[0] - hold.begun[0];
  // The wood goes with the finger, so the piece goes the other way along its board.
  slideTo(fit, hold.onto || piece.is_cut ? 0 : -along * piece.along);
}

function pieceUnder(fit, [x, y]) {
  return fit.pieces.find(({ place: [left, top, width, height] }) => {
    return x >= left && x <= left + width && y >= top && y <= top + height;
  });
}

function slideTo(fit, by) {
  fit.hold.by = Math.round(by * 10) / 10;
  if (!fit.hold.onto) askFor(fit);
  fit.paint();
}

function nudgePiece(fit, piece, step) {
  if (piece.is_cut || fit.isWaiting()) return;
  if (fit.hold?.piece.number !== piece.number) {
    fit.chosen = piece.number;
    fit.hold = { piece, pointer: null, moving: true, by: 0 };
  }
  slideTo(fit, fit.hold.by + step);
}

function onPieceKey(fit, piece, event) {
  const step = event.shiftKey ? LONG_STEP_MM : STEP_MM;
  const keys = piece.upright ? ["ArrowUp", "ArrowDown"] : ["ArrowRight", "ArrowLeft"];
  const way = { [keys[0]]: 1, [keys[1]]: -1 }[event.key];
  if (way) {
    event.preventDefault();
    nudgePiece(fit, piece, -way * step * piece.along);
  } else if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    if (fit.hold?.moving) putThere(fit);
    else fit.choose(piece);
  } else if (event.key === "Escape" && fit.hold) leaveIt(fit);
}

function leaveIt(fit) {
  fit.hold = null;
  fit.release();
  fit.paint();
}

// What the server says of this very place is waited for a little; without it the wish is sent all
// the same, and the server decides when it gets it.
function putThere(fit) {
  const { hold } = fit;
  const { piece, by } = hold;
  if (piece.is_cut) {
    fit.memory.message = `${piece.title} is cut already: it slides no more.`;
    return leaveIt(fit);
  }
  if (Math.abs(by) < REACH_MM) return leaveIt(fit);
  const answer = hold.verdict?.by === by ? hold.verdict : null;
  if (!answer && !hold.isLate) {
    hold.pointer = undefined;
    hold.late ??= setTimeout(() => {
      hold.isLate = true;
      if (fit.hold === hold) putThere(fit);
    }, ANSWER_MS);
    return;
  }
  if (answer && !answer.may) {
    fit.memory.message = `${piece.title} stays where it was. ${answer.said}`;
    return leaveIt(fit);
  }
  fit.hold = null;
  fit.say("slide", piece, { ring: [piece.corner, [by, 0]] });
  fit.release();
}

function changePlaces(fit, one, other) {
  fit.hold = null;
  fit.swapping = false;
  const cut = [one, other].find((piece) => piece.is_cut);
  if (cut) fit.memory.message = `${cut.title} is cut already: it changes no place.`;
  else fit.say("swap", one, { other_copy: other.number });
  fit.release();
  fit.paint();
}

async function askFor(fit) {
  const { hold } = fit;
  if (hold.asking || hold.piece.is_cut) return;
  const { piece, by } = hold;
  const [x, y] = piece.lies_at;
  const query = new URLSearchParams({
    part: piece.part,
    copy: piece.copy,
    from: piece.board,
    x0: x,
    y0: y,
    onto: piece.board,
    x: Math.round((x + by) * 100) / 100,
    y,
    reach: REACH_MM,
    face: piece.show_face,
  });
  hold.asking = true;
  const answer = await fetch(`${fit.data.ask}?${query}`)
    .then((response) => response.json())
    .catch(() => null);
  hold.asking = false;
  if (fit.hold !== hold) return;
  if (answer) hold.verdict = { ...answer, by };
  fit.paint();
  // It moved on while this was answered.
  if (hold.by !== by) askFor(fit);
  else if (hold.late) {
    clearTimeout(hold.late);
    if (!answer) hold.isLate = true;
    putThere(fit);
  }
}
