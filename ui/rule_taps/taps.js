// Some points on a photo: a first tap looks close, a second one sets the point.

const CLOSE = 8;

class Taps {
  constructor(root) {
    this.root = root;
    this.corners = [];
    this.close = null; // the middle of the close look, photo px
    this.hint = element("p", { class: "hint", role: "status" });
    this.svg = drawn("svg", { tabindex: "0", role: "img", "aria-label": "Photo to tap on" });
    this.image = drawn("image", { x: 0, y: 0, preserveAspectRatio: "none" });
    this.marks = drawn("g");
    this.svg.append(this.image, this.marks);
    this.backButton = button("", () => this.takeBack());
    this.wholeButton = button("The whole photo", () => this.lookAt(null));
    this.said = element("p", { class: "message" });
    root.append(
      this.hint,
      this.svg,
      element("div", { class: "bar small" }, this.backButton, this.wholeButton),
      this.said,
    );
    this.svg.addEventListener("click", (event) => this.tap(event));
  }

  take(component) {
    this.component = component;
    const { picture, size, said, noun } = component.data;
    setText(this.backButton, `Take back a ${noun.toLowerCase()}`);
    this.image.setAttribute("href", picture);
    this.image.setAttribute("width", size[0]);
    this.image.setAttribute("height", size[1]);
    setText(this.said, said);
    // Shown again after another photo: what was set before is there.
    if (!this.told && !this.corners.length) this.corners = component.data.moved.slice();
    this.paint();
  }

  isDone() {
    return this.corners.length === this.component.data.which.length;
  }

  tap(event) {
    if (this.isDone()) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(
      this.svg.getScreenCTM().inverse(),
    );
    // Beside the photo is its rim: a corner may lie right on it.
    const [x, y] = this.component.data.size.map((most, axis) =>
      Math.min(Math.max(axis ? at.y : at.x, 0), most),
    );
    if (!this.close) return this.lookAt([x, y]);
    this.corners.push([Math.round(x * 10) / 10, Math.round(y * 10) / 10]);
    this.lookAt(null);
    this.tell();
  }

  takeBack() {
    this.corners.pop();
    this.tell();
    this.paint();
  }

  lookAt(spot) {
    this.close = spot;
    this.paint();
  }

  tell() {
    this.told = true;
    this.component.setStateValue("corners", { corners: this.corners });
  }

  paint() {
    const [width, height] = this.component.data.size;
    const [w, h] = this.close ? [width / CLOSE, height / CLOSE] : [width, height];
    const [x, y] = this.close ? [this.close[0] - w / 2, this.close[1] - h / 2] : [0, 0];
    this.svg.setAttribute("viewBox", `${x} ${y} ${w} ${h}`);
    this.svg.style.aspectRatio = `${width} / ${height}`;
    const scale = w / (this.svg.clientWidth || 800);
    const moved = this.isDone() ? this.component.data.moved : [];
    const outline = moved.length ? moved : this.corners;
    const shapes = [];
    if (outline.length > 1)
      for (const look of ["casing", "line"])
        shapes.push(
          drawn(outline.length > 3 ? "polygon" : "polyline", {
            class: look,
            points: corners(outline),
          }),
        );
    outline.forEach(([cx, cy], number) => {
      shapes.push(drawn("circle", { cx, cy, r: 7 * scale }));
      const text = drawn("text", {
        x: cx + 11 * scale,
        y: cy - 9 * scale,
        "font-size": 15 * scale,
        "stroke-width": 4 * scale,
      });
      text.textContent = String(number + 1);
      shapes.push(text);
    });
    this.marks.replaceChildren(...shapes);
    const { noun, which } = this.component.data;
    const next = this.corners.length;
    const name = `${noun} ${next + 1} of ${which.length}`;
    setText(
      this.hint,
      this.isDone()
        ? `All ${which.length} ${noun.toLowerCase()}s are set.`
        : this.close
          ? `${name}: tap right on it.`
          : `${name}, ${which[next]}: tap near it to look close.`,
    );
    this.backButton.disabled = !next;
    this.wholeButton.hidden = !this.close;
    this.said.hidden = !this.isDone();
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".bench");
  root.owner ??= new Taps(root);
  root.owner.take(component);
  return () => {
    root.owner = null;
    root.replaceChildren();
  };
}
