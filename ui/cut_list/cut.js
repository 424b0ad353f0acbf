// Parts to tick off: one big button says what was done with a part, one that it was spoiled.

class CutList {
  constructor(root) {
    this.root = root;
    this.undoButton = button("Undo", () => this.walk("undo"));
    this.redoButton = button("Redo", () => this.walk("redo"));
    this.message = element("p", { class: "message", role: "status" });
    this.boards = element("div");
    root.append(
      element("div", { class: "bar small" }, this.undoButton, this.redoButton),
      this.message,
      this.boards,
    );
    this.timer = setInterval(() => sendAgain(this), TICK_MS);
    // Streamlit takes single letters of the whole page for itself.
    root.addEventListener("keydown", (event) => {
      if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation();
    });
  }

  end() {
    clearInterval(this.timer);
  }

  take(component) {
    this.component = component;
    this.data = component.data;
    takeAnswers(this);
    this.paint();
  }

  tell(message) {
    setText(this.message, message);
  }

  walk(verb) {
    post(this, verb, {});
    this.paint();
  }

  tick(board, part, to) {
    const at = [part.x, part.y];
    post(this, "tick", { board, part: part.part, copy: part.copy, ring: [at, at], to });
    this.paint();
  }

  // The part as it stands with what is still in the air.
  asSaid(board, part) {
    const now = { ...part };
    for (const said of this.memory.outbox) {
      const same = said.board === board && said.part === part.part && said.copy === part.copy;
      if (said.verb !== "tick" || !same) continue;
      if (said.to === "lock" || said.to === "unlock") now.locked = said.to === "lock";
      else now.state = said.to;
    }
    return now;
  }

  paint() {
    this.undoButton.disabled = !this.data.undo;
    this.redoButton.disabled = !this.data.redo;
    this.undoButton.title = this.data.undo ? `Undo: ${this.data.undo}` : "Nothing to undo";
    this.redoButton.title = this.data.redo ? `Redo: ${this.data.redo}` : "Nothing to redo";
    setText(this.message, this.memory.message);
    keyed(
      this.boards,
      this.data.boards,
      (board) => board.id,
      () => {
        const head = element("h3", {}, element("b"), element("span"));
        return element("section", {}, head, element("ul"));
      },
      (section, board) => this.paintBoard(section, board),
    );
  }

  paintBoard(section, board) {
    const [name, about] = section.firstChild.children;
    const parts = board.parts.map((part) => this.asSaid(board.id, part));
    const cut = parts.filter((one) => this.data.work.indexOf(one.state) >= 2).length;
    setText(name, board.id);
    setText(about, `${board.head}; ${cut} of ${parts.length} cut`);
    keyed(
      section.lastChild,
      parts,
      (part) => `${part.part}#${part.copy}`,
      () => this.makeRow(board.id),
      (row, part) => this.paintRow(row, part),
    );
  }

  makeRow(board) {
    const row = element("li");
    const next = button("", () => this.tick(board, row.line, row.next));
    const back = button("Back", () => this.tick(board, row.line, row.before), { class: "back" });
    const lock = button("", () => this.tick(board, row.line, row.line.locked ? "unlock" : "lock"), {
      class: "quiet",
    });
    const spoil = button("Spoiled", () => this.tick(board, row.line, "spoiled"));
    row.append(
      element("div", { class: "what" }, element("b"), element("span"), element("em")),
      element("div", { class: "bar small" }, next, back, spoil, lock),
    );
    row.buttons = { next, back, lock, spoil };
    return row;
  }

  paintRow(row, part) {
    const { work, words } = this.data;
    const at = work.indexOf(part.state);
    row.line = part;
    row.next = work[at + 1];
    row.before = work[at - 1];
    const [label, about, state] = row.firstChild.children;
    setText(label, part.label);
    setText(about, `${part.size}, ${part.where}`);
    setText(state, words[part.state] + (part.locked ? ", held here" : ""));
    row.className = part.state;
    const { next, back, lock, spoil } = row.buttons;
    const isGone = part.state === "spoiled";
    next.hidden = isGone || !row.next;
    if (row.next) this.name(next, words[row.next], `${part.label} is ${words[row.next]}`);
    back.hidden = isGone || at < 1;
    if (at > 0) this.name(back, "Back", `${part.label} back to ${words[row.before]}`);
    lock.hidden = isGone || at >= 2;
    this.name(
      lock,
      part.locked ? "Let go" : "Hold here",
      `${part.label} ${part.locked ? "may move again" : "is held where it lies"}`,
    );
    spoil.hidden = isGone;
    this.name(spoil, "Spoiled", `${part.label} is spoiled`);
  }

  name(node, text, label) {
    setText(node, text.charAt(0).toUpperCase() + text.slice(1));
    node.setAttribute("aria-label", label);
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".cuts");
  root.owner ??= new CutList(root);
  root.owner.take(component);
  return () => {
    root.owner?.end();
    root.owner = null;
    root.replaceChildren();
  };
}
