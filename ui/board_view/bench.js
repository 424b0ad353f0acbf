// The board on the page: draws at once, sends what was said through an outbox.
//
// A tap changes the drawing in the same moment and goes into the outbox. The outbox is sent as
// component state with a try counter and is sent again until each operation is answered; the
// server does each operation once. Fresh data from the server is drawn with what is still in the
// outbox laid over it.

// Pauses before sending again: they grow, so that a slow server is not asked twice for each tap.
const PAUSES_MS = [1500, 3000, 6000];
const TICK_MS = 500;
const CLOSEST_MM = 60; // window width at closest range
const ROUND_A_FLAW_MM = 260; // least window width when a flaw is shown
const OPEN = "possible";

class Bench {
  constructor(root) {
    this.root = root;
    this.held = null; // data that came while a finger was down
    this.pointers = new Map();
    this.build();
    this.timer = setInterval(() => this.sendAgain(), TICK_MS);
    this.sizes = new ResizeObserver(() => this.data && this.paint());
    this.sizes.observe(this.loupe);
  }

  end() {
    clearInterval(this.timer);
    this.sizes.disconnect();
  }

  build() {
    this.boards = element("nav", { class: "boards", "aria-label": "Boards of this lot" });
    this.name = element("h2");
    this.head = element("p", { class: "head" });
    this.trust = element("p", { class: "trust" });
    this.strips = element("div", { class: "strips" });
    this.loupe = drawn("svg", { class: "loupe", tabindex: "0", role: "img" });
    this.scale = element("span", { class: "scale", "aria-hidden": "true" });
    this.caption = element("span", { class: "caption", "aria-hidden": "true" });
    this.window = element("div", { class: "window" }, this.loupe, this.caption,
      element("div", { class: "zoom", role: "group", "aria-label": "Range" },
        button("+", () => this.zoom(1 / 1.6), { "aria-label": "Closer" }),
        button("−", () => this.zoom(1.6), { "aria-label": "Further off" }),
        button("All", () => this.showAll(), { "aria-label": "The whole face" })),
      this.scale);
    this.title = element("b");
    this.where = element("span");
    this.about = element("p", { class: "about" }, this.title, this.where);
    this.message = element("p", { class: "message", role: "status" });
    this.keepButton = button("Yes, a flaw", () => this.decide("keep"));
    this.strikeButton = button("Not a flaw", () => this.decide("strike"));
    this.nextButton = button("Next", () => this.next());
    this.onButton = button("", () => this.goOn(), { class: "main" });
    this.soundButton = button("Sound knot", () => this.toggleSound(), { "aria-pressed": "false" });
    this.undoButton = button("Undo", () => this.say("undo", {}));
    this.redoButton = button("Redo", () => this.say("redo", {}));
    this.partsButton = button("Parts", () => this.toggleParts(), { "aria-pressed": "true" });
    this.bar = element("div", { class: "bar" }, this.onButton, this.keepButton, this.strikeButton,
      this.nextButton, this.soundButton);
    this.small = element("div", { class: "bar small" }, this.undoButton, this.redoButton, this.partsButton);
    this.list = element("ol", { class: "list" });
    this.listHead = element("h3");
    this.faceButtons = element("div", { class: "bar faces" });
    this.promise = element("p", { class: "promise" });
    setText(this.promise, "What was not found may still be there: look at the wood itself before you say that a face is looked over.");
    this.root.append(
      this.boards,
      element("header", {}, this.name, this.head, this.trust),
      element("div", { class: "work" },
        element("div", { class: "sheet" }, this.strips, this.window),
        element("aside", { "aria-label": "Flaws of this board" }, this.about, this.bar, this.message, this.small,
          this.listHead, this.list, this.faceButtons, this.promise)),
    );
    listen(this);
  }

  // -- data in, drawing out

  take(component) {
    this.component = component;
    if (this.pointers.size) {
      this.held = component.data;
      return;
    }
    this.data = component.data;
    this.memory = memoryOf(this.data.lot);
    const answered = new Map(this.data.answers.map((answer) => [answer.operation, answer]));
    const before = this.memory.outbox.length;
    for (const said of this.memory.outbox) {
      const answer = answered.get(said.id);
      if (answer?.status === "stale") {
        this.memory.message = "Another window changed this meanwhile, so your last tap was not taken. Here is how it stands now.";
      }
    }
    this.memory.outbox = this.memory.outbox.filter((said) => !answered.has(said.id));
    if (this.memory.outbox.length !== before) keep(this.data.lot, this.memory);
    if (!this.memory.outbox.length) this.memory.pause = 0;
    this.paint();
  }

  get id() {
    return this.data.board.id;
  }

  // The server's data with what is still in the air laid over it.
  model() {
    const flaws = this.data.flaws.map((flaw) => ({ ...flaw }));
    const faces = this.data.faces.map((face) => ({ ...face }));
    for (const said of this.memory.outbox) {
      if (said.board !== this.id) continue;
      const flaw = flaws.find((one) => one.id === said.flaw);
      const face = faces.find((one) => one.number === said.face);
      if (flaw && said.verb === "keep") {
        if (flaw.state !== "added") flaw.state = "confirmed";
        if (said.sound != null) flaw.sound = said.sound;
      }
      if (flaw && said.verb === "strike") flaw.state = "struck";
      if (flaw && said.verb === "reopen") flaw.state = OPEN;
      if (face && said.verb === "look_over") face.looked_over = true;
      if (face && said.verb === "look_again") face.looked_over = false;
    }
    return { flaws, faces, parts: this.data.parts, layout: this.data.layout };
  }

  chosen(model = this.model()) {
    const chosen = this.memory.chosen;
    if (!chosen.has(this.id)) {
      const face = model.faces.find((one) => !one.looked_over && one.url) ?? model.faces[0];
      chosen.set(this.id, { face: face.number, flaw: this.openOn(model, face.number)[0]?.id ?? null });
    }
    const now = chosen.get(this.id);
    if (now.flaw && !model.flaws.some((flaw) => flaw.id === now.flaw)) now.flaw = null;
    return now;
  }

  openOn(model, number) {
    return model.flaws
      .filter((flaw) => flaw.state === OPEN && flaw.rings[number])
      .sort((one, other) => one.score - other.score);
  }

  paint() {
    const model = this.model();
    const chosen = this.chosen(model);
    const face = model.faces.find((one) => one.number === chosen.face) ?? model.faces[0];
    const flaw = model.flaws.find((one) => one.id === chosen.flaw);
    this.paintWords(model, face, flaw);
    this.paintBoards();
    this.paintStrips(model, face, chosen);
    this.paintWindow(model, face, flaw);
    this.paintBar(model, face, flaw);
    this.paintList(model, face, flaw);
  }

  paintWords(model, face, flaw) {
    setText(this.name, this.id);
    setText(this.head, `${this.data.board.head}; ${this.data.board.size}`);
    setText(this.trust, [this.data.board.trust, ...this.data.board.notes].join(" · "));
    const states = { possible: `possible, ${flaw?.sure}`, confirmed: "kept as a flaw", struck: "not a flaw", added: "drawn by you" };
    const title = flaw ? `${flaw.id}, ${this.wordOf(flaw)}: ${states[flaw.state]}` : `Face ${face.number}, the whole of it`;
    setText(this.title, title);
    setText(this.caption, title);
    let about = "";
    if (flaw) {
      about = flaw.where + (flaw.reason ? ` Seen: ${flaw.reason}.` : "");
    } else if (!face.url) {
      about = `Face ${face.number} was not photographed: nothing is known of it.`;
    } else {
      about = "Tap a mark or a row of the list to see it close.";
    }
    setText(this.where, about);
    setText(this.message, this.memory.message);
  }

  wordOf(flaw) {
    if (flaw.kind !== "knot") return flaw.word;
    if (flaw.sound === true) return "sound knot";
    return flaw.sound === false ? "loose knot" : "knot";
  }

  paintBoards() {
    this.boards.hidden = this.data.boards.length < 2;
    keyed(this.boards, this.data.boards, (line) => line.id,
      (line) => {
        const chip = button(element("b"), () => this.go(line.id));
        chip.append(element("span"));
        return chip;
      },
      (chip, line) => {
        setText(chip.firstChild, line.id);
        setText(chip.lastChild, line.done ? "looked over" : line.open ? `${line.open} open` : "to look over");
        chip.classList.toggle("done", line.done);
        if (line.id === this.id) chip.setAttribute("aria-current", "true");
        else chip.removeAttribute("aria-current");
      });
  }

  paintStrips(model, face, chosen) {
    keyed(this.strips, model.faces, (one) => `${this.id}-${one.number}`,
      (one) => {
        const svg = drawn("svg", { "aria-hidden": "true" });
        return element("button", {
          type: "button", class: "strip",
          onclick: (event) => this.onStrip(event, one.number, svg),
        }, element("span", { class: "of" }), svg);
      },
      (strip, one) => {
        const svg = strip.querySelector("svg");
        const [x0, y0, x1, y1] = one.frame;
        svg.setAttribute("viewBox", `${x0} ${y0} ${x1 - x0} ${y1 - y0}`);
        svg.style.aspectRatio = `${x1 - x0} / ${y1 - y0}`;
        const mmPerPx = (x1 - x0) / (svg.clientWidth || 900);
        paintFace(svg, one, model, chosen.flaw, { showParts: this.memory.showParts, mmPerPx });
        const open = this.openOn(model, one.number).length;
        const done = one.looked_over ? "looked over" : "not looked over";
        const ends = one.mirror === "x" ? "end A right" : "end A left";
        setText(strip.firstChild, `Face ${one.number} · ${done}${open ? ` · ${open} open` : ""} · ${ends}`);
        strip.classList.toggle("here", one.number === face.number);
        strip.setAttribute("aria-pressed", one.number === face.number);
        let frame = svg.querySelector(".frame");
        if (!frame) svg.append((frame = drawn("rect", { class: "frame" })));
        frame.style.display = one.number === face.number ? "" : "none";
      });
  }

  windowOf(face) {
    const name = `${this.id}-${face.number}`;
    if (!this.memory.windows.has(name)) this.memory.windows.set(name, this.wholeFace(face));
    return this.memory.windows.get(name);
  }

  get windowSize() {
    return [this.loupe.clientWidth || 900, this.loupe.clientHeight || 300];
  }

  wholeFace(face) {
    const [x0, y0, x1, y1] = face.frame;
    const [width, height] = this.windowSize;
    return { x: (x0 + x1) / 2, y: (y0 + y1) / 2, scale: Math.max((x1 - x0) / width, (y1 - y0) / height) };
  }

  roundFlaw(flaw, face) {
    const box = boxOf(flaw.rings[face.number]);
    const [width, height] = this.windowSize;
    const wide = Math.max(box.width * 1.6, ROUND_A_FLAW_MM) / width;
    const high = Math.max(box.height * 1.8, 60) / height;
    const whole = this.wholeFace(face).scale;
    return { x: box.x, y: box.y, scale: Math.min(Math.max(wide, high), whole) };
  }

  paintWindow(model, face, flaw) {
    const key = `${this.id}-${face.number}-${flaw?.id ?? ""}`;
    if (this.aim !== key) {
      // The window follows the choice, and stays where the user moved it otherwise.
      if (flaw?.rings[face.number]) this.memory.windows.set(`${this.id}-${face.number}`, this.roundFlaw(flaw, face));
      this.aim = key;
    }
    const view = this.windowOf(face);
    paintFace(this.loupe, face, model, flaw?.id, { showParts: this.memory.showParts, mmPerPx: view.scale });
    this.loupe.setAttribute("aria-label",
      `Face ${face.number} of ${this.id}${flaw ? `, close at ${flaw.id}, ${this.wordOf(flaw)}` : ""}`);
    this.moveWindow(face, view);
  }

  // Only the window moves: no shape is drawn anew.
  moveWindow(face, view) {
    const [width, height] = this.windowSize;
    const [w, h] = [width * view.scale, height * view.scale];
    this.loupe.setAttribute("viewBox", `${view.x - w / 2} ${view.y - h / 2} ${w} ${h}`);
    for (const text of this.loupe.querySelectorAll(".label")) {
      text.setAttribute("font-size", 13 * view.scale);
      text.setAttribute("stroke-width", 3 * view.scale);
    }
    const frame = this.strips.querySelector(".here .frame");
    if (frame) {
      for (const [name, value] of Object.entries({ x: view.x - w / 2, y: view.y - h / 2, width: w, height: h })) {
        frame.setAttribute(name, value);
      }
    }
    const steps = [10, 20, 50, 100, 200, 500, 1000];
    const step = steps.filter((mm) => mm / view.scale < width * 0.35).pop() ?? steps[0];
    this.scale.style.width = `${step / view.scale}px`;
    setText(this.scale, step >= 1000 ? "1 m" : `${step} mm`);
  }

  paintBar(model, face, flaw) {
    const onFace = flaw && flaw.rings[face.number];
    const isOpen = onFace && flaw.state === OPEN;
    this.keepButton.hidden = !onFace;
    this.strikeButton.hidden = !onFace;
    this.keepButton.classList.toggle("main", Boolean(isOpen));
    this.keepButton.setAttribute("aria-pressed", Boolean(onFace && ["confirmed", "added"].includes(flaw.state)));
    this.strikeButton.setAttribute("aria-pressed", Boolean(onFace && flaw.state === "struck"));
    this.soundButton.hidden = !(onFace && flaw.kind === "knot" && flaw.state !== "struck");
    this.soundButton.setAttribute("aria-pressed", Boolean(onFace && flaw.sound === true));
    this.nextButton.hidden = !(isOpen && model.flaws.filter((one) => one.state === OPEN).length > 1);
    const step = this.step(model, face);
    this.onButton.hidden = Boolean(isOpen) || !step;
    if (step) setText(this.onButton, step.label);
    this.undoButton.disabled = !this.data.undo;
    this.redoButton.disabled = !this.data.redo;
    for (const [node, name, what] of [[this.undoButton, "Undo", this.data.undo], [this.redoButton, "Redo", this.data.redo]]) {
      node.title = what ? `${name}: ${what}` : `Nothing to ${name.toLowerCase()}`;
    }
    this.partsButton.hidden = !this.data.parts.length;
    this.partsButton.setAttribute("aria-pressed", this.memory.showParts);
  }

  // What comes next, once no open flaw is chosen.
  step(model, face) {
    const open = this.openOn(model, face.number);
    if (open.length) return { label: `Next possible flaw (${open.length} open)`, act: () => this.choose(face.number, open[0].id) };
    if (!face.looked_over) return { label: `Face ${face.number} is looked over`, act: () => this.lookOver(face.number) };
    const other = model.faces.find((one) => !one.looked_over);
    if (other) return { label: `Go on to face ${other.number}`, act: () => this.toFace(other.number) };
    const to_do = this.data.boards.find((line) => !line.done && line.id !== this.id);
    if (to_do) return { label: `Go on to board ${to_do.id}`, act: () => this.go(to_do.id) };
    return null;
  }

  paintList(model, face, flaw) {
    const open = model.flaws.filter((one) => one.state === OPEN).length;
    setText(this.listHead, model.flaws.length ? `Flaws found: ${model.flaws.length}, ${open} open` : "No flaw was found");
    keyed(this.list, model.flaws, (one) => `${this.id}-${one.id}`,
      (one) => {
        const row = button(element("span", { "aria-hidden": "true" }), () => this.fromList(one.id));
        row.append(element("b"), element("span", { class: "say" }), element("em"));
        return element("li", {}, row);
      },
      (item, one) => {
        const row = item.firstChild;
        const [swatch, name, say, state] = row.children;
        swatch.className = `swatch ${one.state}`;
        setText(name, one.id);
        const faces = Object.keys(one.rings).join(" and ");
        setText(say, `${this.wordOf(one)}, face ${faces}`);
        const words = { possible: `open, ${one.sure}`, confirmed: "flaw", struck: "no flaw", added: "yours" };
        setText(state, words[one.state]);
        if (one.id === flaw?.id) row.setAttribute("aria-current", "true");
        else row.removeAttribute("aria-current");
      });
    keyed(this.faceButtons, model.faces, (one) => `${this.id}-${one.number}`,
      (one) => button("", () => this.toggleLookedOver(one.number)),
      (node, one) => {
        setText(node, `Face ${one.number} looked over`);
        node.setAttribute("aria-pressed", one.looked_over);
      });
  }

  // -- what the user says

  say(verb, about) {
    this.memory.message = "";
    this.memory.outbox.push({
      id: randomName(), client: this.memory.client, base: this.data.revision, verb,
      board: this.id, ...about,
    });
    keep(this.data.lot, this.memory);
    this.send();
    this.paint();
  }

  send() {
    this.memory.tries += 1;
    this.memory.sentAt = Date.now();
    // The counter makes every try a change: the server is told of changes only.
    this.component.setStateValue("outbox", { n: `${this.memory.client}-${this.memory.tries}`, ops: this.memory.outbox });
  }

  sendAgain() {
    if (!this.memory?.outbox.length) return;
    const pause = PAUSES_MS[Math.min(this.memory.pause, PAUSES_MS.length - 1)];
    if (Date.now() - this.memory.sentAt < pause) return;
    this.memory.pause += 1;
    if (this.memory.pause > 2) {
      this.memory.message = "The page's program does not answer. What you said is kept here and is sent again.";
      setText(this.message, this.memory.message);
    }
    this.send();
  }

  decide(verb) {
    const model = this.model();
    const { face, flaw } = this.chosen(model);
    if (!flaw) return;
    const was = model.flaws.find((one) => one.id === flaw);
    const pressed = (verb === "keep" && was.state === "confirmed") || (verb === "strike" && was.state === "struck");
    const said = pressed ? "reopen" : verb;
    if (said !== "reopen" && was.state === OPEN) {
      const left = this.openOn(model, face).filter((one) => one.id !== flaw);
      this.memory.chosen.set(this.id, { face, flaw: left[0]?.id ?? null });
      if (!left.length) this.forgetWindow(face);
    }
    this.say(said, { flaw });
  }

  toggleSound() {
    const model = this.model();
    const { flaw } = this.chosen(model);
    const was = model.flaws.find((one) => one.id === flaw);
    this.say("keep", { flaw, sound: was.sound !== true });
  }

  lookOver(number) {
    const other = this.model().faces.find((one) => one.number !== number && !one.looked_over);
    if (other) {
      const open = this.openOn(this.model(), other.number);
      this.memory.chosen.set(this.id, { face: other.number, flaw: open[0]?.id ?? null });
    }
    this.say("look_over", { face: number });
  }

  toggleLookedOver(number) {
    const face = this.model().faces.find((one) => one.number === number);
    this.say(face.looked_over ? "look_again" : "look_over", { face: number });
  }

  // -- where the user looks

  go(board) {
    this.memory.message = "";
    this.aim = null;
    if (board !== this.id) this.component.setStateValue("board", { n: randomName(), id: board });
  }

  goOn() {
    const model = this.model();
    const { face } = this.chosen(model);
    this.step(model, model.faces.find((one) => one.number === face))?.act();
  }

  choose(face, flaw) {
    this.memory.chosen.set(this.id, { face, flaw });
    this.memory.message = "";
    this.aim = null;
    this.paint();
  }

  next() {
    const model = this.model();
    const { face, flaw } = this.chosen(model);
    const here = this.openOn(model, face).map((one) => one.id);
    const at = here.indexOf(flaw);
    if (at + 1 < here.length) return this.choose(face, here[at + 1]);
    const other = model.faces.find((one) => one.number !== face && this.openOn(model, one.number).length);
    if (other) return this.choose(other.number, this.openOn(model, other.number)[0].id);
    return this.choose(face, here[0] ?? null);
  }

  fromList(id) {
    const model = this.model();
    const flaw = model.flaws.find((one) => one.id === id);
    const { face } = this.chosen(model);
    this.choose(flaw.rings[face] ? face : Number(Object.keys(flaw.rings)[0] ?? face), id);
    if (this.root.clientWidth < 800) this.window.scrollIntoView({ block: "start" });
  }

  toFace(number) {
    const model = this.model();
    this.choose(number, this.openOn(model, number)[0]?.id ?? null);
  }

  onStrip(event, number, svg) {
    const box = svg.getBoundingClientRect();
    const face = this.model().faces.find((one) => one.number === number);
    const hit = event.target.closest?.(".flaw");
    if (hit) return this.choose(number, hit.dataset.flaw);
    this.memory.chosen.set(this.id, { face: number, flaw: null });
    this.aim = null;
    // A tap with the pointer moves the window there; the keyboard shows the whole face.
    if (event.detail && box.width) {
      const [x0, y0, x1, y1] = face.frame;
      const scale = Math.min(this.wholeFace(face).scale, (y1 - y0) / this.windowSize[1]);
      const x = x0 + ((event.clientX - box.left) / box.width) * (x1 - x0);
      this.memory.windows.set(`${this.id}-${number}`, { x, y: (y0 + y1) / 2, scale });
    } else this.forgetWindow(number);
    this.paint();
  }

  forgetWindow(number) {
    this.memory.windows.delete(`${this.id}-${number}`);
  }

  faceHere() {
    const model = this.model();
    const { face } = this.chosen(model);
    return model.faces.find((one) => one.number === face) ?? model.faces[0];
  }

  showAll() {
    const face = this.faceHere();
    this.memory.chosen.set(this.id, { face: face.number, flaw: null });
    this.forgetWindow(face.number);
    this.paint();
  }

  showsAll() {
    const face = this.faceHere();
    return this.windowOf(face).scale >= this.wholeFace(face).scale;
  }

  toggleParts() {
    this.memory.showParts = !this.memory.showParts;
    this.paint();
  }

  zoom(by, at = null) {
    const face = this.faceHere();
    const view = this.windowOf(face);
    const [width] = this.windowSize;
    const scale = Math.min(Math.max(view.scale * by, CLOSEST_MM / width), this.wholeFace(face).scale * 1.2);
    if (at) {
      // The wood under the pointer stays under it.
      view.x += at.x * (view.scale - scale);
      view.y += at.y * (view.scale - scale);
    }
    view.scale = scale;
    this.moveWindow(face, view);
  }

  pan(dx, dy) {
    const face = this.faceHere();
    const view = this.windowOf(face);
    const [x0, y0, x1, y1] = face.frame;
    view.x = Math.min(Math.max(view.x - dx * view.scale, x0), x1);
    view.y = Math.min(Math.max(view.y - dy * view.scale, y0), y1);
    this.moveWindow(face, view);
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".bench");
  // Called again with every change of data; only the first call after mounting builds.
  root.owner ??= new Bench(root);
  root.owner.take(component);
  return () => {
    root.owner?.end();
    root.owner = null;
    root.replaceChildren();
  };
}
