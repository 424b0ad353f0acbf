// The five steps as buttons. A tap names the wanted page; the server goes there.
//
// What was said on another page and had no answer yet when that page was left is sent from here.

const LOOK_MS = 500;

class Road {
  constructor(root) {
    this.root = root;
    this.tries = 0;
    this.list = element("ol");
    root.append(this.list);
    this.timer = setInterval(() => this.sendLeftOver(), LOOK_MS);
  }

  end() {
    clearInterval(this.timer);
  }

  take(component) {
    this.component = component;
    this.data = component.data;
    const answered = new Set(this.data.answers);
    const memory = memoryOf(this.data.lot);
    letGo(this.data.lot, memory, (id) => answered.has(id));
    this.paint();
    this.sendLeftOver();
  }

  // The pages that take taps send their own.
  sendLeftOver() {
    if (!this.data || ["flaws", "layout", "cut"].includes(this.data.here)) return;
    const memory = memoryOf(this.data.lot);
    if (!memory.outbox.length) return;
    // At once where the page before may have taken its own try with it.
    if (this.tries && !pauseOver(memory)) return;
    if (this.tries) memory.pauses += 1;
    this.tries += 1;
    memory.sentAt = Date.now();
    this.component.setStateValue("outbox", {
      n: `${memory.client}-road-${this.tries}-${Date.now()}`,
      ops: memory.outbox,
    });
  }

  paint() {
    keyed(
      this.list,
      this.data.steps,
      (step) => step.name,
      (step) => {
        const node = element("li");
        const go = button(element("b"), () => this.go(step.name));
        go.append(element("span"));
        node.append(go);
        return node;
      },
      (node, step) => {
        const go = node.firstChild;
        setText(go.firstChild, step.title);
        setText(go.lastChild, step.note);
        node.className = step.state;
        if (step.name === this.data.here) go.setAttribute("aria-current", "step");
        else go.removeAttribute("aria-current");
      },
    );
  }

  go(name) {
    // From a page beside a step, the step itself is a way as well.
    if (name === this.data.here && !this.data.is_aside) return;
    this.component.setStateValue("page", { n: randomName(), name });
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".road");
  root.owner ??= new Road(root);
  root.owner.take(component);
  return () => {
    root.owner?.end();
    root.owner = null;
    root.replaceChildren();
  };
}
