// The words, rows and buttons round the drawing of a board.

function paintWords(bench, model, face, flaw) {
  setText(bench.name, bench.id);
  setText(bench.head, unbroken(`${bench.data.board.head}; ${bench.data.board.size}`));
  setText(bench.trust, bench.data.board.trust);
  paintNotes(bench, bench.data.board.notes);
  const states = {
    possible: `possible, ${flaw?.sure}`,
    confirmed: "kept as a flaw",
    struck: "not a flaw",
    added: "drawn by you",
  };
  const isDrawing = bench.edit?.mode === "draw";
  const title = flaw
    ? `${flaw.id}, ${wordOf(flaw)}: ${states[flaw.state]}`
    : isDrawing
      ? `A new flaw on face ${face.number}`
      : `Face ${face.number}, the whole of it`;
  setText(bench.title, title);
  setText(bench.caption, title);
  let about = "";
  if (flaw) {
    about = flaw.where + (flaw.reason ? ` Seen: ${flaw.reason}.` : "");
  } else if (!face.url) {
    about = `Face ${face.number} was not photographed: nothing is known of it.`;
  } else if (!isDrawing) {
    about = "Tap a mark or a row of the list to see it close.";
  }
  setText(bench.where, unbroken(about));
  const { message, walked } = bench.memory;
  setText(bench.message, message);
  bench.message.classList.toggle("walked", Boolean(message) && message === walked);
}

// Folded away: a board with many of them would push the wood off a small screen.
function paintNotes(bench, notes) {
  bench.notes.hidden = !notes.length;
  setText(bench.notesHead, notes.length === 1 ? "One note on it" : `${notes.length} notes on it`);
  keyed(
    bench.noteList,
    notes.map((note, at) => ({ note, at })),
    (one) => `${bench.id}-${one.at}`,
    () => element("li"),
    (item, one) => setText(item, one.note),
  );
}

function paintBoards(bench) {
  bench.boards.hidden = bench.data.boards.length < 2;
  keyed(
    bench.boards,
    bench.data.boards,
    (line) => line.id,
    (line) => {
      const chip = button(element("b"), () => bench.go(line.id));
      chip.append(element("span"));
      return chip;
    },
    (chip, line) => {
      setText(chip.firstChild, line.id);
      setText(
        chip.lastChild,
        line.done ? "looked over" : line.open ? `${line.open} open` : "to look over",
      );
      chip.classList.toggle("done", line.done);
      if (line.id === bench.id) chip.setAttribute("aria-current", "true");
      else chip.removeAttribute("aria-current");
    },
  );
  bringIntoView(bench.boards, bench.shownChip !== bench.id);
  bench.shownChip = bench.id;
}

// Of a dozen boards a phone shows four: the one that is looked at stands among them.
function bringIntoView(row, isOther) {
  const here = row.querySelector("[aria-current]");
  if (!here || !isOther) return;
  const { offsetLeft: left, offsetWidth: width } = here;
  const at = left - row.offsetLeft;
  if (at < row.scrollLeft || at + width > row.scrollLeft + row.clientWidth)
    row.scrollLeft = at - (row.clientWidth - width) / 2;
}

function paintStrips(bench, model, face, chosen) {
  keyed(
    bench.strips,
    model.faces,
    (one) => `${bench.id}-${one.number}`,
    (one) => {
      const svg = drawn("svg", { "aria-hidden": "true" });
      return element(
        "button",
        {
          type: "button",
          class: "strip",
          onclick: (event) => bench.onStrip(event, one.number, svg),
        },
        element("span", { class: "of" }),
        svg,
        element("span", { class: "of end" }),
      );
    },
    (strip, one) => {
      const svg = strip.querySelector("svg");
      const [x0, y0, x1, y1] = one.frame;
      const { upright } = bench;
      svg.setAttribute("viewBox", viewBoxOf(upright, x0, y0, x1 - x0, y1 - y0));
      svg.style.aspectRatio = upright ? "" : `${x1 - x0} / ${y1 - y0}`;
      const [along, across] = upright
        ? [svg.clientHeight, svg.clientWidth]
        : [svg.clientWidth, svg.clientHeight];
      const mmPerPx = Math.max((x1 - x0) / (along || 900), (y1 - y0) / (across || 900));
      paintFace(svg, one, model, chosen.flaw, {
        showParts: bench.memory.showParts,
        mmPerPx,
        upright,
      });
      const open = bench.openOn(model, one.number).length;
      const done = one.looked_over ? "looked over" : "not looked over";
      const ends = one.mirror === "x" ? "end A right" : "end A left";
      const words = `Face ${one.number} · ${done}${open ? ` · ${open} open` : ""} · ${ends}`;
      // Upright there is room for a word or two; the whole is said all the same.
      const few = `Face ${one.number}\n${open ? `${open} open` : one.looked_over ? "seen ✓" : "to see"}`;
      const [above, below] = one.mirror === "x" ? ["B", "A"] : ["A", "B"];
      setText(strip.firstChild, upright ? `${few}\n${above}` : words);
      setText(strip.lastChild, upright ? below : "");
      if (upright) strip.setAttribute("aria-label", words);
      else strip.removeAttribute("aria-label");
      strip.classList.toggle("here", one.number === face.number);
      strip.setAttribute("aria-pressed", one.number === face.number);
      let frame = svg.querySelector(".frame");
      if (!frame) sheetOf(svg, upright).append((frame = drawn("rect", { class: "frame" })));
      frame.style.display = one.number === face.number ? "" : "none";
    },
  );
}

function paintBar(bench, model, face, flaw) {
  const onFace = flaw && flaw.rings[face.number];
  const isOpen = onFace && flaw.state === OPEN;
  bench.keepButton.hidden = !onFace;
  bench.strikeButton.hidden = !onFace;
  bench.keepButton.classList.toggle("main", Boolean(isOpen));
  bench.keepButton.setAttribute(
    "aria-pressed",
    Boolean(onFace && ["confirmed", "added"].includes(flaw.state)),
  );
  bench.strikeButton.setAttribute("aria-pressed", Boolean(onFace && flaw.state === "struck"));
  bench.soundButton.hidden = !(onFace && flaw.kind === "knot" && flaw.state !== "struck");
  bench.soundButton.setAttribute("aria-pressed", Boolean(onFace && flaw.sound === true));
  bench.nextButton.hidden = !(isOpen && model.flaws.filter((one) => one.state === OPEN).length > 1);
  const step = nextStep(bench, model, face);
  bench.onButton.hidden = Boolean(isOpen) || !step;
  if (step) setText(bench.onButton, step.label);
  bench.undoButton.disabled = !bench.data.undo;
  bench.redoButton.disabled = !bench.data.redo;
  for (const [node, name, what] of [
    [bench.undoButton, "Undo", bench.data.undo],
    [bench.redoButton, "Redo", bench.data.redo],
  ]) {
    node.title = what ? `${name}: ${what}` : `Nothing to ${name.toLowerCase()}`;
  }
  paintThroughBar(bench, model, face);
  bench.partsButton.hidden = !bench.data.parts.length;
  bench.partsButton.setAttribute("aria-pressed", bench.memory.showParts);
}

function paintList(bench, model, face, flaw) {
  const open = model.flaws.filter((one) => one.state === OPEN).length;
  setText(
    bench.listHead,
    model.flaws.length ? `Flaws found: ${model.flaws.length}, ${open} open` : "No flaw was found",
  );
  keyed(
    bench.list,
    model.flaws,
    (one) => `${bench.id}-${one.id}`,
    (one) => {
      const row = button(swatch(), () => bench.fromList(one.id));
      row.append(element("b"), element("span", { class: "say" }), element("em"));
      return element("li", {}, row);
    },
    (item, one) => {
      const row = item.firstChild;
      const [mark, name, say, state] = row.children;
      mark.firstChild.setAttribute("class", `flaw ${one.state} kind-${one.kind}`);
      setText(name, one.id);
      const faces = Object.keys(one.rings);
      setText(say, `${wordOf(one)}, ${faces.length > 1 ? "both faces" : `face ${faces}`}`);
      const words = {
        // How well it was seen says as well that nobody answered yet.
        possible: one.sure.split(",")[0],
        confirmed: "flaw",
        struck: "no flaw",
        added: "yours",
      };
      setText(state, words[one.state]);
      if (one.id === flaw?.id) row.setAttribute("aria-current", "true");
      else row.removeAttribute("aria-current");
    },
  );
  // Of a hundred flaws the list shows the one that is meant.
  const here = bench.list.querySelector("[aria-current]")?.parentNode;
  if (here && bench.listed !== flaw.id) {
    const { offsetTop: top, offsetHeight: height } = here;
    const { scrollTop: from, clientHeight: room } = bench.list;
    if (top < from || top + height > from + room) bench.list.scrollTop = top - room / 2;
  }
  bench.listed = flaw?.id;
  keyed(
    bench.endButtons,
    model.ends,
    (one) => `${bench.id}-${one.name}`,
    (one) => button(`End ${one.name}: no check`, () => bench.toggleEnd(one.name)),
    (node, one) => node.setAttribute("aria-pressed", one.seen),
  );
  keyed(
    bench.faceButtons,
    model.faces,
    (one) => `${bench.id}-${one.number}`,
    (one) => button("", () => bench.toggleLookedOver(one.number)),
    (node, one) => {
      setText(node, `Face ${one.number} looked over`);
      node.setAttribute("aria-pressed", one.looked_over);
    },
  );
}

// The line that a flaw is drawn with, so that the list is its own legend.
function swatch() {
  const svg = drawn("svg", { class: "swatch", viewBox: "0 0 30 12", "aria-hidden": "true" });
  const flaw = drawn("g");
  for (const look of ["casing", "line"])
    flaw.append(drawn("polygon", { class: look, points: "2,6 28,6" }));
  svg.append(flaw);
  return svg;
}

function wordOf(flaw) {
  if (flaw.kind !== "knot") return flaw.word;
  if (flaw.sound === true) return "sound knot";
  return flaw.sound === false ? "loose knot" : "knot";
}

// What comes next, once no open flaw is chosen.
function nextStep(bench, model, face) {
  const open = bench.openOn(model, face.number);
  if (open.length)
    return {
      label: `Next possible flaw (${open.length} open)`,
      act: () => bench.choose(face.number, open[0].id),
    };
  // Both strips stand above in whole; a face without a picture is not meant by "both".
  if (model.faces.length === 2 && model.faces.every((one) => one.url && !one.looked_over)) {
    const waiting = model.faces.find((one) => bench.openOn(model, one.number).length);
    if (waiting)
      return { label: `Go on to face ${waiting.number}`, act: () => bench.toFace(waiting.number) };
    return { label: "Both faces are looked over", act: () => bench.lookOverBoth() };
  }
  if (!face.looked_over)
    return { label: `Face ${face.number} is looked over`, act: () => bench.lookOver(face.number) };
  const other = model.faces.find((one) => !one.looked_over);
  if (other)
    return { label: `Go on to face ${other.number}`, act: () => bench.toFace(other.number) };
  const to_do = bench.data.boards.find((line) => !line.done && line.id !== bench.id);
  if (to_do) return { label: `Go on to board ${to_do.id}`, act: () => bench.go(to_do.id) };
  return null;
}
