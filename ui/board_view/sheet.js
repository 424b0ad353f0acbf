// All boards with their parts, to be looked at: a tap on one goes to it.

class Sheet {
  constructor(root) {
    this.root = root;
    this.list = element("ol");
    root.append(this.list);
  }

  take(component) {
    this.component = component;
    const { boards, layout } = component.data;
    keyed(
      this.list,
      boards,
      (board) => board.id,
      (board) => {
        const node = element("li");
        const go = button(element("b"), () => this.go(board.id));
        go.append(element("span", { class: "of" }), element("div", { class: "faces" }));
        node.append(go);
        return node;
      },
      (node, board) => {
        const [name, of, faces] = node.firstChild.children;
        setText(name, board.id);
        setText(of, board.head);
        keyed(
          faces,
          board.faces,
          (face) => String(face.number),
          () => drawn("svg", { "aria-hidden": "true" }),
          (svg, face) => this.paintFace(svg, face, board, layout),
        );
      },
    );
  }

  paintFace(svg, face, board, layout) {
    const [x0, y0, x1, y1] = face.frame;
    svg.setAttribute("viewBox", `${x0} ${y0} ${x1 - x0} ${y1 - y0}`);
    const width = this.root.clientWidth || 900;
    const model = { parts: board.parts, flaws: board.flaws, layout };
    paintFace(svg, face, model, null, { showParts: true, mmPerPx: (x1 - x0) / width });
  }

  go(id) {
    this.component.setStateValue("board", { n: `${id}-${Date.now()}`, id });
  }
}

export default function (component) {
  const root = component.parentElement.querySelector(".bench");
  root.owner ??= new Sheet(root);
  root.owner.take(component);
  return () => {
    root.owner = null;
    root.replaceChildren();
  };
}
