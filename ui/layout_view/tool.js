// The layout on the page: parts are chosen, carried, held, turned, swapped; drawn at once, sent
// through the outbox.

class Tool {
  constructor(root) {
    this.root = root;
    this.carry = null;
    this.swapping = null;
    this.undoButton = button("Undo", () => this.say("undo", {}));
    this.redoButton = button("Redo", () => this.say("redo", {}));
    this.faceButtons = [1, 2].map((number) =>
      button(`Face ${number}`, () => this.toFace(number), { "aria-pressed": "false" }),
    );
    this.list = element("ol");
    root.append(
      element("div", { class: "bar small top" }, ...this.faceButtons, this.undoButton, this.redoButton),
      element("div", { class: "work" }, this.list, buildChosen(this)),
    );
    this.timer = setInterval(() => sendAgain(this), TICK_MS);
    this.sizes = new ResizeObserver(() => this.data && !this.carry && this.paint());
    this.sizes.observe(root);
    // Streamlit takes single letters of the whole page for itself.
    root.addEventListener("keydown", (event) => {
      if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation();
    });
  }

  end() {
    clearInterval(this.timer);
    clearInterval(this.carry?.timer);
    this.sizes.disconnect();
  }

  // -- data in, drawing out

  take(component) {
    this.component = component;
    // Fresh data would pull the part from under the finger.
    if (this.carry) {
      this.held = true;
      return;
    }
    const boards = fillShapes(this, component.data, component.data.boards);
    if (!boards) return;
    this.data = { ...component.data, boards };
    takeAnswers(this);
    this.look = this.memory.layout ??= { face: 1, chosen: null };
    this.paint();
  }

  release() {
    if (!this.held) return;
    this.held = false;
    this.take(this.component);
  }

  // The server's boards with what is still in the air laid over them.
  model() {
    const boards = this.data.boards.map((board) => ({
      ...board,
      parts: board.parts.map((part) => ({ ...part, board: board.id })),
    }));
    for (const said of this.memory.outbox) layOver(boards, said);
    return boards;
  }

  paint() {
    this.upright = standsUpright(this.root);
    this.root.classList.toggle("upright", this.upright);
    this.boards = this.model();
    for (const [place, node] of this.faceButtons.entries())
      node.setAttribute("aria-pressed", this.look.face === place + 1);
    this.undoButton.disabled = !this.data.undo;
    this.redoButton.disabled = !this.data.redo;
    this.undoButton.title = this.data.undo ? `Undo: ${this.data.undo}` : "";
    this.redoButton.title = this.data.redo ? `Redo: ${this.data.redo}` : "";
    keyed(
      this.list,
      this.boards,
      (board) => board.id,
      (board) => {
        const node = makeWood(this, board);
        listenToWood(this, node.svg);
        return node;
      },
      (node, board) => paintWood(this, node, board),
    );
    paintChosen(this);
  }

  tell(message) {
    setText(this.message, message);
  }

  nodes() {
    return [...this.list.children];
  }

  nodeOf(id) {
    return this.nodes().find((node) => node.dataset.name === id);
  }

  boardOf(id) {
    return this.boards.find((board) => board.id === id);
  }

  chosen() {
    for (const board of this.boards ?? []) {
      const part = board.parts.find((one) => nameOf(one) === this.look.chosen);
      if (part) return part;
    }
    return null;
  }

  // What a finger on a part has hold of: of slices over each other the chosen one.
  inHand(part) {
    const chosen = this.chosen();
    return ofOneBlank(chosen, part) ? chosen : part;
  }

  // The slice that lies under a chosen one: a second tap asks for it.
  nextSlice(part) {
    const slices = this.boardOf(part.board).parts.filter((one) => ofOneBlank(one, part));
    const at = slices.findIndex((one) => nameOf(one) === nameOf(part));
    return slices.at(at - 1) ?? part;
  }

  isReadOnly() {
    return this.data.layout === "improving";
  }

  mayCarry(part) {
    return Boolean(part) && !this.isReadOnly() && ["", "held"].includes(part.stays);
  }

  // -- what the user does

  choose(part) {
    if (this.look.chosen === nameOf(part)) return;
    this.look.chosen = nameOf(part);
    this.memory.message = "";
    this.paint();
  }

  tapped(part) {
    if (Date.now() - (this.dropped ?? 0) < 300) return;
    const one = this.swapping && this.chosen();
    this.swapping = null;
    if (one && nameOf(one) !== nameOf(part)) {
      this.say("swap", {
        ...aboutPart(one),
        ring: [
          [one.x, one.y],
          [part.x, part.y],
        ],
        other: part.part,
        other_copy: part.copy,
        other_board: part.board,
      });
      return;
    }
    const isAgain = this.look.chosen === nameOf(part);
    this.look.chosen = nameOf(isAgain ? this.nextSlice(part) : part);
    this.memory.message = "";
    this.paint();
  }

  hold() {
    const part = this.chosen();
    this.act("tick", { to: part.locked ? "unlock" : "lock" });
  }

  act(verb, more = {}) {
    this.say(verb, { ...aboutPart(this.chosen()), ...more });
  }

  swap() {
    this.swapping = this.swapping ? null : true;
    this.paint();
  }

  keepOff() {
    const { part, board } = this.chosen();
    this.say("forbid", { part, board });
  }

  reserve(to) {
    this.say("spare", { part: this.chosen().part, to });
  }

  say(verb, about) {
    post(this, verb, about);
    this.paint();
  }

  toFace(number) {
    this.look.face = number;
    this.paint();
  }

  toFlaws(id) {
    this.component.setStateValue("board", { n: randomName(), id });
  }
}

function aboutPart(part) {
  const at = [part.x, part.y];
  return { part: part.part, copy: part.copy, board: part.board, ring: [at, at] };
}

// What was done and is not answered yet.
function layOver(boards, said) {
  const of = (name, copy) => {
    const all = boards.flatMap((board) => board.parts);
    return all.find((part) => part.part === name && part.copy === copy);
  };
  const put = (part, board, [x, y], shows, turns = part.angle) => {
    for (const one of boards) one.parts = one.parts.filter((other) => other !== part);
    Object.assign(part, { board, x, y, angle: turns, moved: true, locked: true, stays: "held" });
    if (part.show_face && shows) part.show_face = shows;
    boards.find((one) => one.id === board)?.parts.push(part);
  };
  const part = of(said.part, said.copy);
  if (!part) return;
  if (said.verb === "move" && said.lands) {
    const all = boards.flatMap((board) => board.parts);
    const moved = all.filter((one) => one === part || ofOneBlank(one, part));
    for (const one of moved) put(one, said.other, said.lands, said.shows, said.turns);
  }
  if (said.verb === "turn") {
    Object.assign(part, { show_face: 3 - part.show_face, locked: true, stays: "held" });
  }
  if (said.verb === "swap") {
    const other = of(said.other, said.other_copy);
    if (!other) return;
    const there = [other.board, [other.x, other.y]];
    put(other, part.board, [part.x, part.y]);
    put(part, ...there);
  }
  if (said.verb === "tick" && ["lock", "unlock"].includes(said.to)) {
    const locked = said.to === "lock";
    Object.assign(part, { locked, stays: locked ? "held" : "" });
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".bench");
  root.owner ??= new Tool(root);
  root.owner.take(component);
  return () => {
    root.owner?.end();
    root.owner = null;
    root.replaceChildren();
  };
}
