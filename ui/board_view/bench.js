// The board on the page: draws at once, sends what was said through an outbox.
//
// A tap changes the drawing in the same moment and goes into the outbox. The outbox is sent as
// component state with a try counter and is sent again until each operation is answered; the
// server does each operation once. Fresh data from the server is drawn with what is still in the
// outbox laid over it.

const OPEN = "possible";

class Bench {
  constructor(root) {
    this.root = root;
    this.held = null; // data that came while a finger was down
    this.edit = null; // an outline being drawn or mended
    this.pointers = new Map();
    buildBench(this);
    this.timer = setInterval(() => sendAgain(this), TICK_MS);
    this.sizes = new ResizeObserver(() => this.data && this.paint());
    this.sizes.observe(this.loupe);
  }

  end() {
    clearInterval(this.timer);
    this.sizes.disconnect();
  }

  // -- data in, drawing out

  take(component) {
    this.component = component;
    if (this.pointers.size) {
      this.held = component.data;
      return;
    }
    const boards = fillShapes(this, component.data, [component.data]);
    if (!boards) return;
    [this.data] = boards;
    takeAnswers(this);
    this.paint();
  }

  get id() {
    return this.data.board.id;
  }

  // The server's data with what is still in the air laid over it.
  model() {
    const flaws = this.data.flaws.map((flaw) => ({ ...flaw }));
    const faces = this.data.faces.map((face) => ({ ...face }));
    const ends = this.data.ends.map((end) => ({ ...end }));
    for (const said of this.memory.outbox) {
      if (said.board !== this.id) continue;
      overlay(said, flaws, faces, ends);
    }
    return { flaws, faces, ends, parts: this.data.parts, layout: this.data.layout };
  }

  chosen(model = this.model()) {
    const chosen = this.memory.chosen;
    if (!chosen.has(this.id)) {
      const face = model.faces.find((one) => !one.looked_over && one.url) ?? model.faces[0];
      chosen.set(this.id, {
        face: face.number,
        flaw: this.openOn(model, face.number)[0]?.id ?? null,
      });
    }
    const now = chosen.get(this.id);
    if (now.flaw && !model.flaws.some((flaw) => flaw.id === now.flaw)) now.flaw = null;
    return now;
  }

  openOn(model, number) {
    return model.flaws
      .filter((flaw) => flaw.state === OPEN && flaw.rings[number])
      .sort((one, other) => one.rank - other.rank);
  }

  paint() {
    this.upright = standsUpright(this.root);
    this.root.classList.toggle("upright", this.upright);
    const model = this.model();
    const chosen = this.chosen(model);
    fillKinds(this);
    const face = model.faces.find((one) => one.number === chosen.face) ?? model.faces[0];
    const flaw = model.flaws.find((one) => one.id === chosen.flaw);
    paintWords(this, model, face, flaw);
    paintBoards(this);
    paintStrips(this, model, face, chosen);
    paintWindow(this, model, face, flaw);
    paintBar(this, model, face, flaw);
    paintEditBar(this, flaw);
    paintList(this, model, face, flaw);
  }

  // -- what the user says

  say(verb, about) {
    post(this, verb, { board: this.id, ...about });
    this.paint();
  }

  tell(message) {
    setText(this.message, message);
  }

  decide(verb) {
    const model = this.model();
    const { face, flaw } = this.chosen(model);
    if (!flaw) return;
    const was = model.flaws.find((one) => one.id === flaw);
    const pressed =
      (verb === "keep" && was.state === "confirmed") ||
      (verb === "strike" && was.state === "struck");
    const said = pressed ? "reopen" : verb;
    if (said !== "reopen" && was.state === OPEN) {
      const left = this.openOn(model, face).filter((one) => one.id !== flaw);
      this.memory.chosen.set(this.id, { face, flaw: left[0]?.id ?? null });
      if (!left.length) this.leaveFace(model, face, flaw);
    }
    this.say(said, { flaw });
  }

  // The last open flaw of a face is decided: on to the other face's, or to the whole of this one.
  leaveFace(model, face, decided) {
    for (const other of model.faces.filter((one) => one.number !== face)) {
      const open = this.openOn(model, other.number).filter((one) => one.id !== decided);
      if (!open.length) continue;
      this.memory.chosen.set(this.id, { face: other.number, flaw: open[0].id });
      return;
    }
    forgetWindow(this, face);
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

  lookOverBoth() {
    for (const face of this.model().faces) this.say("look_over", { face: face.number });
  }

  toggleLookedOver(number) {
    const face = this.model().faces.find((one) => one.number === number);
    this.say(face.looked_over ? "look_again" : "look_over", { face: number });
  }

  toggleEnd(name) {
    const end = this.model().ends.find((one) => one.name === name);
    this.say(end.seen ? "end_unseen" : "end_seen", { to: name });
  }

  // -- where the user looks

  go(board) {
    this.memory.message = "";
    this.aim = null;
    this.edit = null;
    if (board !== this.id) this.component.setStateValue("board", { n: randomName(), id: board });
  }

  goOn() {
    const model = this.model();
    const { face } = this.chosen(model);
    nextStep(
      this,
      model,
      model.faces.find((one) => one.number === face),
    )?.act();
  }

  choose(face, flaw) {
    this.edit = null;
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
    const other = model.faces.find(
      (one) => one.number !== face && this.openOn(model, one.number).length,
    );
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
    // Another place of the same face while shaping; the corners set so far stay.
    if (this.edit?.face !== number) this.edit = null;
    const face = this.model().faces.find((one) => one.number === number);
    const hit = event.target.closest?.(".flaw");
    if (hit && !this.edit) return this.choose(number, hit.dataset.flaw);
    if (!this.edit) this.memory.chosen.set(this.id, { face: number, flaw: null });
    this.aim = this.edit ? this.aim : null;
    // A tap with the pointer moves the window there; the keyboard shows the whole face.
    if (event.detail) {
      const [, y0, , y1] = face.frame;
      const scale = Math.min(wholeFace(this, face).scale, (y1 - y0) / windowSize(this)[1]);
      const [x] = spotOn(svg, event);
      this.memory.windows.set(`${this.id}-${number}`, { x, y: (y0 + y1) / 2, scale });
    } else forgetWindow(this, number);
    this.paint();
  }

  faceHere() {
    const model = this.model();
    const { face } = this.chosen(model);
    return model.faces.find((one) => one.number === face) ?? model.faces[0];
  }

  showAll() {
    const face = this.faceHere();
    if (!this.edit) this.memory.chosen.set(this.id, { face: face.number, flaw: null });
    forgetWindow(this, face.number);
    this.paint();
  }

  toggleParts() {
    this.memory.showParts = !this.memory.showParts;
    this.paint();
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
