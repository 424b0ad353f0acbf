// The fixed parts of the board view: made once, filled by each painting.

function buildBench(bench) {
  bench.boards = element("nav", { class: "boards", "aria-label": "Boards of this lot" });
  bench.name = element("h2");
  bench.head = element("p", { class: "head" });
  bench.trust = element("p", { class: "trust" });
  bench.notesHead = element("summary");
  bench.noteList = element("ul");
  bench.notes = element("details", { class: "notes" }, bench.notesHead, bench.noteList);
  bench.strips = element("div", { class: "strips" });
  bench.loupe = drawn("svg", { class: "loupe", tabindex: "0", role: "img" });
  bench.scale = element("span", { class: "scale", "aria-hidden": "true" });
  bench.caption = element("span", { class: "caption", "aria-hidden": "true" });
  bench.window = element(
    "div",
    { class: "window" },
    bench.loupe,
    bench.caption,
    element(
      "div",
      { class: "zoom", role: "group", "aria-label": "Range" },
      button("+", () => zoom(bench, 1 / 1.6), { "aria-label": "Closer" }),
      button("−", () => zoom(bench, 1.6), { "aria-label": "Further off" }),
      button("All", () => bench.showAll(), { "aria-label": "The whole face" }),
    ),
    bench.scale,
  );
  bench.title = element("b");
  bench.where = element("span");
  bench.about = element("p", { class: "about" }, bench.title, bench.where);
  bench.message = element("p", { class: "message", role: "status" });
  bench.keepButton = button("Yes, a flaw", () => bench.decide("keep"));
  bench.strikeButton = button("Not a flaw", () => bench.decide("strike"));
  bench.nextButton = button("Next", () => bench.next());
  bench.onButton = button("", () => bench.goOn(), { class: "main on" });
  bench.soundButton = button("Sound knot", () => bench.toggleSound(), { "aria-pressed": "false" });
  bench.undoButton = button("Undo", () => bench.say("undo", {}));
  bench.redoButton = button("Redo", () => bench.say("redo", {}));
  bench.partsButton = button("Parts", () => bench.toggleParts(), { "aria-pressed": "true" });
  bench.bar = element(
    "div",
    { class: "bar" },
    bench.onButton,
    bench.keepButton,
    bench.strikeButton,
    bench.nextButton,
    bench.soundButton,
  );
  buildThrough(bench);
  bench.small = element(
    "div",
    { class: "bar small" },
    bench.undoButton,
    bench.redoButton,
    bench.partsButton,
    bench.throughButton,
  );
  buildShaping(bench);
  bench.list = element("ol", { class: "list" });
  bench.listHead = element("h3");
  bench.faceButtons = element("div", { class: "bar faces" });
  bench.endButtons = element("div", { class: "bar small ends" });
  bench.endHint = element("p", { class: "promise" });
  setText(bench.endHint, "Say it of a fresh cut that you looked at: from then on less of that end is cut off.");
  bench.promise = element("p", { class: "promise" });
  setText(
    bench.promise,
    "What was not found may still be there: look at the wood itself before you say that a face is looked over.",
  );
  bench.root.append(
    bench.boards,
    element("header", {}, bench.name, bench.head, bench.trust, bench.notes),
    element(
      "div",
      { class: "work" },
      element("div", { class: "sheet" }, bench.strips, bench.window),
      element(
        "aside",
        { "aria-label": "Flaws of this board" },
        bench.about,
        bench.bar,
        bench.editBar,
        bench.small,
        // Below: Undo stays under the finger whatever is said.
        bench.message,
        bench.more,
        bench.listHead,
        bench.list,
        bench.faceButtons,
        bench.endButtons,
        bench.endHint,
        bench.promise,
      ),
    ),
  );
  listen(bench);
}
