// A group as it will look, from its own wood: a piece is chosen, slid, swapped, flipped, turned.

class Fit {
  constructor(root) {
    this.root = root;
    this.hold = null;
    this.chosen = null;
    this.swapping = false;
    this.svg = drawn("svg", { role: "group", "aria-label": "Pieces put together" });
    this.undoButton = button("Undo", () => this.walk("undo"));
    this.redoButton = button("Redo", () => this.walk("redo"));
    this.verdict = element("p", { class: "verdict", role: "status" });
    this.about = element("p", { class: "about" }, element("b"), element("span"));
    this.message = element("p", { class: "message", role: "status" });
    this.hint = element("p", { class: "hint" });
    this.flipButton = button("Other face up", () => this.say("flip", this.piece()));
    this.turnButton = button("End for end", () => this.say("turn", this.piece()));
    this.swapButton = button("Swap", () => this.swap(), { "aria-pressed": "false" });
    this.slideButtons = [-1, 1].map((way) =>
      button(way < 0 ? "← Slide" : "Slide →", () => {
        const piece = this.piece();
        nudgePiece(this, piece, -way * STEP_MM * piece.along);
      }),
    );
    this.bar = element(
      "div",
      { class: "bar" },
      this.flipButton,
      this.turnButton,
      this.swapButton,
      ...this.slideButtons,
    );
    this.downBar = element(
      "div",
      { class: "bar down", hidden: true },
      button("Cut it there", () => putThere(this), { class: "main" }),
      button("Leave it", () => leaveIt(this)),
    );
    root.append(
      element("div", { class: "bar small top" }, this.undoButton, this.redoButton),
      element(
        "div",
        { class: "work" },
        element("div", {}, this.svg, this.verdict),
        element(
          "aside",
          { "aria-label": "The chosen piece" },
          this.about,
          this.bar,
          this.downBar,
          this.message,
          this.hint,
        ),
      ),
    );
    listenToPieces(this);
    this.timer = setInterval(() => sendAgain(this), TICK_MS);
    this.sizes = new ResizeObserver(() => this.data && !this.hold && this.paint());
    this.sizes.observe(root);
    // Streamlit takes single letters of the whole page for itself.
    root.addEventListener("keydown", (event) => {
      if (event.key !== "Tab" && event.key !== "Escape") event.stopPropagation();
    });
  }

  end() {
    clearInterval(this.timer);
    this.sizes.disconnect();
  }

  take(component) {
    this.component = component;
    // Fresh data would pull the wood from under the finger.
    if (this.hold) {
      this.held = true;
      return;
    }
    if (this.data && this.data.title !== component.data.title) this.chosen = null;
    this.data = component.data;
    takeAnswers(this);
    this.paint();
  }

  release() {
    if (!this.held) return;
    this.held = false;
    this.take(this.component);
  }

  tell(message) {
    setText(this.message, message);
  }

  walk(verb) {
    post(this, verb, {});
    this.paint();
  }

  say(to, piece, more = {}) {
    const ring = [piece.corner, piece.corner];
    post(this, "fit", { to, other: this.data.title, copy: piece.number, ring, ...more });
    this.paint();
  }

  swap() {
    this.swapping = !this.swapping;
    this.paint();
  }

  choose(piece) {
    const one = this.swapping && this.piece();
    if (one && one.number !== piece.number) return changePlaces(this, one, piece);
    this.swapping = false;
    this.chosen = piece.number;
    this.memory.message = "";
    this.paint();
  }

  piece() {
    return this.pieces?.find((piece) => piece.number === this.chosen) ?? null;
  }

  isChosen(piece) {
    return piece.number === this.chosen;
  }

  isWaiting() {
    return this.memory.outbox.some((said) => said.verb === "fit");
  }

  // The server's pieces with what is still in the air laid over them.
  model() {
    const pieces = this.data.pieces.map((piece) => ({ ...piece, by: 0, waits: false }));
    for (const said of this.memory.outbox) {
      if (said.verb !== "fit" || said.other !== this.data.title) continue;
      const piece = pieces.find((one) => one.number === said.copy);
      if (!piece) continue;
      piece.waits = true;
      if (said.to === "slide") piece.by = said.ring[1][0];
      const other = said.to === "swap" && pieces.find((one) => one.number === said.other_copy);
      if (!other) continue;
      other.waits = true;
      for (const name of ["picture", "picture_at", "piece_from_board", "arrow"])
        [piece[name], other[name]] = [other[name], piece[name]];
    }
    if (this.hold) {
      const piece = pieces.find((one) => one.number === this.hold.piece.number);
      if (piece) piece.by = this.hold.by;
    }
    return pieces;
  }

  paint() {
    this.pieces = this.model();
    const [width, height] = this.data.size;
    const rim = Math.max(width, height) * 0.012;
    this.svg.setAttribute("viewBox", `${-rim} ${-rim} ${width + 2 * rim} ${height + 2 * rim}`);
    this.svg.style.aspectRatio = `${width + 2 * rim} / ${height + 2 * rim}`;
    const matrix = this.svg.getScreenCTM();
    this.mmPerPx = matrix?.a ? 1 / matrix.a : width / 900;
    keyed(
      this.svg,
      this.pieces,
      (piece) => String(piece.number),
      (piece) => this.makePiece(piece),
      (group, piece) => this.paintPiece(group, piece),
    );
    this.paintWords();
  }

  makePiece() {
    const group = drawn("g", { tabindex: "0", role: "button" });
    const window = drawn("svg", { preserveAspectRatio: "none" });
    const wood = drawn("g");
    const image = drawn("image", { preserveAspectRatio: "none" });
    const slid = drawn("g");
    slid.append(image);
    wood.append(slid);
    window.append(drawn("rect", { class: "plain" }), wood);
    const turned = drawn("g");
    turned.append(window);
    group.append(turned, drawn("rect", { class: "rim" }), drawn("text", { class: "label" }));
    group.addEventListener("click", () => {
      if (Date.now() - (this.dropped ?? 0) > 300) this.choose(group.piece);
    });
    group.addEventListener("keydown", (event) => onPieceKey(this, group.piece, event));
    Object.assign(group, { window, wood, slid, image, turned });
    return group;
  }

  paintPiece(group, piece) {
    group.piece = piece;
    const [x, y, width, height] = piece.place;
    const [length, across] = piece.size;
    const { hold } = this;
    const kinds = ["piece"];
    if (this.isChosen(piece)) kinds.push("chosen");
    if (piece.waits) kinds.push("waits");
    if (hold?.onto?.number === piece.number) kinds.push("onto");
    const isRefused = hold?.piece.number === piece.number && hold.verdict && !hold.verdict.may;
    if (isRefused && !hold.onto) kinds.push("refused");
    group.setAttribute("class", kinds.join(" "));
    group.setAttribute("aria-pressed", this.isChosen(piece));
    group.setAttribute("aria-label", `${piece.number}. ${piece.title}, ${piece.where}, ${piece.lies}`);
    // An upright piece has its left end at the foot.
    group.turned.setAttribute(
      "transform",
      piece.upright ? `translate(${x} ${y + height}) rotate(-90)` : `translate(${x} ${y})`,
    );
    for (const node of [group.window, group.window.firstChild]) {
      node.setAttribute("width", length);
      node.setAttribute("height", across);
    }
    group.window.setAttribute("viewBox", `0 0 ${length} ${across}`);
    group.wood.setAttribute("transform", `matrix(${piece.piece_from_board.join(" ")})`);
    group.slid.setAttribute("transform", `translate(${-piece.by} 0)`);
    if (piece.picture) {
      group.image.setAttribute("href", piece.picture);
      ["x", "y", "width", "height"].forEach((name, place) =>
        group.image.setAttribute(name, piece.picture_at[place]),
      );
    }
    group.image.style.display = piece.picture ? "" : "none";
    const [, rim, text] = group.children;
    for (const [name, value] of Object.entries({ x, y, width, height }))
      rim.setAttribute(name, value);
    const size = Math.min(16 * this.mmPerPx, 0.8 * Math.min(width, height));
    const arrow = piece.upright ? ["↓", "↑"] : ["←", "→"];
    setText(text, `${piece.number} ${arrow[piece.arrow > 0 ? 1 : 0]}`);
    for (const [name, value] of Object.entries({
      x: piece.upright ? x + width / 2 : x + 1.6 * size,
      y: piece.upright ? y + height - size : y + height / 2,
      "font-size": size,
      "stroke-width": 4 * this.mmPerPx,
    }))
      text.setAttribute(name, value);
  }

  paintWords() {
    const { hold } = this;
    const piece = this.piece();
    this.undoButton.disabled = !this.data.undo;
    this.redoButton.disabled = !this.data.redo;
    this.undoButton.title = this.data.undo ? `Undo: ${this.data.undo}` : "";
    this.redoButton.title = this.data.redo ? `Redo: ${this.data.redo}` : "";
    setText(this.verdict, hold?.moving ? this.verdictOf(hold) : "");
    this.verdict.classList.toggle("refused", Boolean(hold?.verdict && !hold.verdict.may && !hold.onto));
    const [title, about] = this.about.children;
    setText(title, piece ? `${piece.number}. ${piece.title}` : "");
    const cut = piece?.is_cut ? " · cut already" : "";
    setText(about, piece ? `${piece.where} · ${piece.lies}${cut}` : "");
    setText(this.message, this.memory.message);
    const isByKeys = Boolean(hold?.moving && hold.pointer === null);
    this.bar.hidden = !piece;
    this.downBar.hidden = !isByKeys;
    if (piece) {
      // They stay where they are: a finger slides a piece on with the button it is on.
      const isBusy = isByKeys || this.isWaiting();
      this.flipButton.disabled = !piece.may_flip || isBusy;
      this.turnButton.disabled = isBusy;
      this.swapButton.disabled = piece.is_cut || isBusy || this.pieces.length < 2;
      this.swapButton.setAttribute("aria-pressed", this.swapping);
      const signs = piece.upright ? ["↓ Slide", "Slide ↑"] : ["← Slide", "Slide →"];
      this.slideButtons.forEach((node, place) => {
        node.disabled = piece.is_cut || this.isWaiting();
        setText(node, signs[place]);
      });
    }
    setText(this.hint, this.hintOf(piece));
  }

  hintOf(piece) {
    if (this.swapping) return "Tap the piece to swap it with.";
    if (this.isWaiting()) return "The layout is being changed.";
    if (piece) return "Drag it along to slide it on its board, or onto another piece to swap them.";
    return "Tap a piece. Then drag it along to slide it on its board, or onto another to swap.";
  }

  verdictOf({ piece, by, onto, verdict }) {
    if (onto) return `Let go to swap ${piece.number} and ${onto.number}.`;
    if (piece.is_cut) return `${piece.title} is cut already.`;
    const far = this.length(Math.abs(by));
    const where = `${far} towards end ${by < 0 ? "A" : "B"}`;
    if (!verdict) return `${where}: asking whether it can be cut there.`;
    return verdict.may ? `${where}: it can be cut there.` : `${where}: not there. ${verdict.said}`;
  }

  length(mm) {
    return this.data.units === "inch" ? `${(mm / 25.4).toFixed(2)} in` : `${Math.round(mm)} mm`;
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".bench");
  root.owner ??= new Fit(root);
  root.owner.take(component);
  return () => {
    root.owner?.end();
    root.owner = null;
    root.replaceChildren();
  };
}
