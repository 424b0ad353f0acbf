// A part carried over the boards: where it would land is asked of the server while it moves.

const A_TAP_PX = 5;
const REACH_PX = 26; // how far from the finger a part may land
const [STEP_MM, LONG_STEP_MM] = [5, 50];
const NEAR_THE_EDGE_PX = 36;
const SCROLL_PX = 9;
const ANSWER_MS = 1500;

function listenToWood(tool, svg) {
  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    const group = event.target.closest?.(".laid");
    const part = group && tool.inHand(group.placed);
    if (!tool.mayCarry(part)) return;
    // A finger scrolls the board unless the part was chosen before.
    if (event.pointerType === "touch" && tool.chosen() !== part) return;
    begin(tool, svg, part, event);
  });
  svg.addEventListener(
    "touchstart",
    (event) => {
      const group = event.target.closest?.(".laid");
      // The style's touch-action does not reach shapes inside a drawing everywhere.
      const part = group && tool.inHand(group.placed);
      if (tool.mayCarry(part) && tool.chosen() === part)
        event.preventDefault();
    },
    { passive: false },
  );
  svg.addEventListener("pointermove", (event) => drag(tool, event));
  svg.addEventListener("pointerup", (event) => endTouch(tool, event));
  svg.addEventListener("pointercancel", () => putBack(tool));
}

function begin(tool, svg, part, event) {
  svg.setPointerCapture(event.pointerId);
  const board = tool.boardOf(part.board);
  const corner = seenSpot(board, faceOf(tool, board), [part.x, part.y]);
  const [x, y] = spotOn(svg, event);
  tool.carry = {
    part,
    pointer: event.pointerId,
    grab: [x - corner[0], y - corner[1]],
    begun: [event.clientX, event.clientY],
    onto: part.board,
    corner: [part.x, part.y],
    verdict: null,
  };
  // The first answer for a board takes longest: ask before the part has moved.
  ask(tool);
}

function drag(tool, event) {
  const carry = tool.carry;
  if (carry?.pointer !== event.pointerId) return;
  const far = Math.hypot(event.clientX - carry.begun[0], event.clientY - carry.begun[1]);
  if (!carry.moving && far < A_TAP_PX) return;
  if (!carry.moving) {
    carry.moving = true;
    tool.choose(carry.part);
    carry.timer = setInterval(() => scrollOn(tool), 30);
  }
  carry.last = event;
  follow(tool);
}

// The corner follows the finger, over whichever board it is.
function follow(tool) {
  const { carry } = tool;
  const under = tool.nodes().find((node) => isOver(tool, node.svg, carry.last)) ?? null;
  if (under) carry.onto = under.dataset.name;
  const node = tool.nodeOf(carry.onto);
  const board = tool.boardOf(carry.onto);
  const [x, y] = spotOn(node.svg, carry.last);
  const seen = [x - carry.grab[0], y - carry.grab[1]];
  carry.corner = boardSpot(board, faceOf(tool, board), seen);
  ask(tool);
  paintGhost(tool);
}

// Lying boards take the whole width; upright ones stand beside each other.
function isOver(tool, svg, event) {
  const box = svg.parentNode.getBoundingClientRect();
  const beside = tool.upright && (event.clientX < box.left || event.clientX > box.right);
  return !beside && event.clientY >= box.top && event.clientY <= box.bottom;
}

function scrollOn(tool) {
  const { carry } = tool;
  if (tool.upright) return scrollPage(tool);
  const { scroll } = tool.nodeOf(carry.onto);
  const box = scroll.getBoundingClientRect();
  const before = scroll.scrollLeft;
  if (carry.last.clientX > box.right - NEAR_THE_EDGE_PX) scroll.scrollLeft += SCROLL_PX;
  if (carry.last.clientX < box.left + NEAR_THE_EDGE_PX) scroll.scrollLeft -= SCROLL_PX;
  if (scroll.scrollLeft !== before) follow(tool);
}

// Near the screen's upper or lower border the page goes on under the part.
function scrollPage(tool) {
  const { carry } = tool;
  const page = scrollerOf(tool.root);
  const foot = tool.panel.getBoundingClientRect();
  const low = Math.min(window.innerHeight, foot.top > 0 ? foot.top : window.innerHeight);
  const before = page.scrollTop;
  if (carry.last.clientY > low - NEAR_THE_EDGE_PX) page.scrollTop += SCROLL_PX;
  if (carry.last.clientY < NEAR_THE_EDGE_PX) page.scrollTop -= SCROLL_PX;
  if (page.scrollTop !== before) follow(tool);
}

function scrollerOf(root) {
  let node = root.getRootNode().host ?? root.parentElement;
  while (node && !(node.scrollHeight > node.clientHeight && /auto|scroll/.test(getComputedStyle(node).overflowY)))
    node = node.parentElement;
  return node ?? document.scrollingElement;
}

function endTouch(tool, event) {
  const { carry } = tool;
  if (carry?.pointer !== event.pointerId) return;
  if (carry.moving) putDown(tool);
  else {
    tool.carry = null;
    tool.release();
    tool.tapped(carry.part);
  }
  // The click that may follow means nothing any more.
  tool.dropped = Date.now();
}

function putBack(tool) {
  clearInterval(tool.carry?.timer);
  tool.carry = null;
  paintGhost(tool);
  tool.release();
}

// What the server says of this very place is waited for a little; without it the move is sent all
// the same, and the server decides when it gets it.
function putDown(tool) {
  const { carry } = tool;
  const answer = carry.verdict?.asked === placeName(carry) ? carry.verdict : null;
  if (!answer && !carry.isLate) {
    carry.pointer = undefined;
    carry.late ??= setTimeout(() => comeTooLate(tool, carry), ANSWER_MS);
    // A page that goes away while it waits would take the move with it.
    window.addEventListener("pagehide", () => comeTooLate(tool, carry), { once: true });
    return;
  }
  if (answer && !answer.may) {
    tool.memory.message = `${carry.part.label} stays where it was. ${answer.said}`;
    putBack(tool);
    return tool.paint();
  }
  const { part, onto } = carry;
  const lands = answer ? [answer.x, answer.y] : carry.corner;
  putBack(tool);
  tool.look.chosen = `${nameOf(part)}`;
  post(tool, "move", {
    part: part.part,
    copy: part.copy,
    board: part.board,
    other: onto,
    ring: [[part.x, part.y], carry.corner.map(round)],
    reach: reachOn(tool, onto),
    face: part.show_face ?? 0,
    lands,
    shows: answer?.show_face ?? part.show_face,
    turns: answer?.angle ?? part.angle,
  });
  tool.paint();
}

function comeTooLate(tool, carry) {
  if (tool.carry !== carry) return;
  carry.isLate = true;
  putDown(tool);
}

const round = (mm) => Math.round(mm * 100) / 100;

const reachOn = (tool, board) => round(REACH_PX * tool.nodeOf(board).mmPerPx);

const placeName = (carry) => `${carry.onto} ${carry.corner.map(round)}`;

async function ask(tool) {
  const { carry } = tool;
  if (carry.asking) return;
  const { part } = carry;
  const asked = placeName(carry);
  const query = new URLSearchParams({
    part: part.part,
    copy: part.copy,
    from: part.board,
    x0: part.x,
    y0: part.y,
    onto: carry.onto,
    x: round(carry.corner[0]),
    y: round(carry.corner[1]),
    reach: reachOn(tool, carry.onto),
    face: part.show_face ?? 0,
  });
  carry.asking = true;
  const answer = await fetch(`${tool.data.ask}?${query}`)
    .then((response) => response.json())
    .catch(() => null);
  carry.asking = false;
  if (tool.carry !== carry) return;
  if (answer) carry.verdict = { ...answer, asked, onto: carry.onto };
  paintGhost(tool);
  // The part moved on while this was answered.
  if (placeName(carry) !== asked) ask(tool);
  else if (carry.late) {
    clearTimeout(carry.late);
    if (!answer) carry.isLate = true;
    putDown(tool);
  }
}

function paintGhost(tool) {
  const { carry } = tool;
  for (const node of tool.nodes()) {
    const group = node.svg.querySelector(".ghost");
    const isHere = carry?.moving && node.dataset.name === carry.onto;
    node.classList.toggle("over", Boolean(isHere));
    if (!isHere) {
      group.replaceChildren();
      setText(node.verdict, "");
      continue;
    }
    const board = tool.boardOf(carry.onto);
    const face = faceOf(tool, board);
    const verdict = carry.verdict?.onto === carry.onto ? carry.verdict : null;
    const shapes = [];
    const put = (corner, kind, angle) =>
      drawn("polygon", {
        class: kind,
        points: corners(seenRing(board, face, corner, carry.part, angle)),
      });
    if (verdict?.may) shapes.push(put([verdict.x, verdict.y], "lands", verdict.angle));
    shapes.push(put(carry.corner, verdict && !verdict.may ? "carried refused" : "carried"));
    group.replaceChildren(...shapes);
    node.verdict.classList.toggle("refused", Boolean(verdict && !verdict.may));
    const asks = verdict ? verdict.said || "It may lie here." : "Asking whether it may lie here.";
    setText(node.verdict, verdict && !verdict.may ? `Not here. ${asks}` : asks);
  }
  tool.root.classList.toggle("carrying", Boolean(carry?.moving));
  paintPutDown(tool);
}

// -- without dragging: arrow keys on a part, or the buttons beside it

const ARROWS = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

function onPartKey(tool, part, event) {
  const step = event.shiftKey ? LONG_STEP_MM : STEP_MM;
  const [right, down] = ARROWS[event.key] ?? [0, 0];
  if (right || down) {
    event.preventDefault();
    nudge(tool, part, [right * step, down * step]);
  } else if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    if (tool.carry?.moving) putDown(tool);
    else tool.tapped(part);
  } else if (event.key === "Escape" && tool.carry) putBack(tool);
}

// By so much to the right and down on the screen, in mm.
function nudge(tool, part, [right, down]) {
  if (!tool.mayCarry(part)) return;
  if (tool.carry?.part !== part) {
    tool.choose(part);
    tool.carry = {
      part,
      pointer: null,
      onto: part.board,
      corner: [part.x, part.y],
      verdict: null,
      moving: true,
    };
  }
  const { carry } = tool;
  const [along, across] = onTheBoard(tool, tool.boardOf(carry.onto), right, down);
  carry.corner = [carry.corner[0] + along, carry.corner[1] + across];
  ask(tool);
  paintGhost(tool);
}

// A step on the screen as a step in the board's own frame.
function onTheBoard(tool, board, right, down) {
  const face = faceOf(tool, board);
  const [along, across] = alongAcross(tool.upright, right, down);
  return [face.mirror === "x" ? -along : along, face.mirror === "y" ? -across : across];
}

// To another board: to its beginning, from where the nearest clear place is sought.
function carryTo(tool, part, board) {
  post(tool, "move", {
    part: part.part,
    copy: part.copy,
    board: part.board,
    other: board,
    ring: [
      [part.x, part.y],
      [part.x, part.y],
    ],
    reach: WHOLE_BOARD_MM,
    face: part.show_face ?? 0,
    lands: null,
  });
  tool.paint();
}

const WHOLE_BOARD_MM = 6000;
