// Drawing and mending outlines: corners under the finger, a line across, another flaw to join.

const REACH_PX = 26; // how far from a corner a finger still takes it
const CORNER_PX = 9;
const APART_PX = 44; // corners nearer to each other lie under one finger
const [FEWEST, MOST] = [4, 14];
const SLIP_PX = 8;

const HINTS = {
  draw: "Draw round the flaw, or tap corner after corner. Then drag a corner to move it.",
  reshape: "Drag a corner. Drag the small dot between two corners to make a new one.",
  divide: "Tap on one side of the flaw, then on the other.",
  join: "Tap the mark that belongs to this flaw.",
};

function startEdit(bench, mode) {
  const model = bench.model();
  const { face, flaw } = bench.chosen(model);
  const chosen = model.flaws.find((one) => one.id === flaw);
  if (mode !== "draw" && !chosen?.rings[face]) return;
  if (mode === "draw") bench.memory.chosen.set(bench.id, { face, flaw: null });
  bench.edit = { mode, face, flaw: mode === "draw" ? null : flaw, ring: [], drag: null };
  if (mode === "reshape") {
    const view = closeTo(bench, chosen.rings[face]);
    bench.memory.windows.set(`${bench.id}-${face}`, view);
    bench.edit.ring = fewerCorners(chosen.rings[face], view.scale);
  }
  bench.memory.message = "";
  bench.more.open = false;
  bench.paint();
  bench.loupe.focus({ preventScroll: true });
}

function cancelEdit(bench) {
  bench.edit = null;
  bench.paint();
}

function doneEdit(bench) {
  const edit = bench.edit;
  if (!edit || edit.ring.length < 3) return;
  bench.edit = null;
  const about = { face: edit.face, ring: edit.ring, mm_per_px: scaleNow(bench) };
  if (edit.mode === "draw") {
    const flaw = freeName(bench);
    bench.memory.chosen.set(bench.id, { face: edit.face, flaw });
    bench.aim = `${bench.id}-${edit.face}-${flaw}`;
    bench.say("draw", { flaw, kind: bench.kindField.value, ...about });
  } else bench.say("reshape", { flaw: edit.flaw, ...about });
}

// A tap that was no drag: a corner, an end of the line, or the other flaw.
function tapEdit(bench, event, hit) {
  const edit = bench.edit;
  if (edit.mode === "join") {
    if (!hit || hit === edit.flaw) return;
    bench.edit = null;
    bench.say("join", { flaw: edit.flaw, other: hit, face: edit.face });
    return;
  }
  if (edit.mode === "reshape") return;
  edit.ring.push(spotOf(bench, event));
  if (edit.mode === "divide" && edit.ring.length === 2) {
    bench.edit = null;
    bench.say("divide", { flaw: edit.flaw, face: edit.face, ring: edit.ring });
    return;
  }
  bench.paint();
}

function takeBackCorner(bench) {
  bench.edit?.ring.pop();
  bench.paint();
}

// -- dragging

function grip(bench, event) {
  const edit = bench.edit;
  if (!edit || !["draw", "reshape"].includes(edit.mode)) return false;
  const at = spotOf(bench, event);
  const near = nearest(edit.ring, at);
  const middles = edit.ring.length > 2 ? middlesOf(edit.ring) : [];
  const between = nearest(middles, at);
  const reach = REACH_PX * scaleNow(bench);
  if (near.distance <= reach && near.distance <= between.distance + reach / 4) {
    edit.drag = near.at;
  } else if (edit.mode === "reshape" && between.distance <= reach) {
    edit.ring.splice(between.at + 1, 0, middles[between.at]);
    edit.drag = between.at + 1;
  } else return false;
  return true;
}

function dragCorner(bench, event) {
  bench.edit.ring[bench.edit.drag] = spotOf(bench, event);
  paintEdit(bench);
}

// A corner dropped on its neighbour is gone.
function dropCorner(bench) {
  const edit = bench.edit;
  if (!edit || edit.drag == null) return;
  const { ring, drag } = edit;
  edit.drag = null;
  const next = ring[(drag + 1) % ring.length];
  const before = ring[(drag + ring.length - 1) % ring.length];
  const slip = SLIP_PX * scaleNow(bench);
  if (ring.length > 3 && [next, before].some((one) => distance(one, ring[drag]) < slip))
    ring.splice(drag, 1);
  bench.paint();
}

// -- drawing

function paintEdit(bench) {
  const sheet = sheetOf(bench.loupe, bench.upright);
  let group = sheet.querySelector(".edit");
  if (!group) sheet.append((group = drawn("g", { class: "edit" })));
  const edit = bench.edit;
  if (!edit) {
    group.replaceChildren();
    return;
  }
  // What is being shaped is drawn last, over all marks.
  sheet.append(group);
  const scale = scaleNow(bench);
  const shapes = [];
  const tag = edit.ring.length > 2 ? "polygon" : "polyline";
  for (const look of ["casing", "line"])
    shapes.push(drawn(tag, { class: look, points: corners(edit.stroke ?? edit.ring) }));
  if (edit.mode === "reshape") {
    for (const [x, y] of middlesOf(edit.ring))
      shapes.push(drawn("circle", { class: "middle", cx: x, cy: y, r: 4 * scale }));
  }
  for (const [x, y] of edit.ring)
    shapes.push(drawn("circle", { class: "corner", cx: x, cy: y, r: CORNER_PX * scale }));
  group.replaceChildren(...shapes);
}

function paintEditBar(bench, flaw) {
  const edit = bench.edit;
  bench.editBar.hidden = !edit;
  bench.bar.hidden = Boolean(edit);
  bench.small.hidden = Boolean(edit);
  bench.more.hidden = Boolean(edit);
  bench.root.classList.toggle("editing", Boolean(edit));
  if (edit) {
    const shapes = ["draw", "reshape"].includes(edit.mode);
    bench.doneButton.hidden = !shapes;
    bench.doneButton.disabled = edit.ring.length < 3;
    bench.cornerButton.hidden = edit.mode !== "draw";
    bench.cornerButton.disabled = !edit.ring.length;
    bench.kindLabel.hidden = edit.mode !== "draw";
    setText(bench.hint, HINTS[edit.mode]);
    return;
  }
  const onFace = Boolean(flaw && flaw.rings[bench.faceHere().number]);
  for (const node of [bench.reshapeButton, bench.divideButton, bench.joinButton, bench.renameLabel])
    node.hidden = !onFace;
  bench.deleteButton.hidden = !(onFace && flaw.drawn);
  if (onFace) bench.renameField.value = flaw.kind;
}

// Built once; the lists of kinds come with the data.
function buildShaping(bench) {
  bench.hint = element("p", { class: "hint", role: "status" });
  bench.kindField = element("select", { "aria-label": "What it is" });
  bench.kindLabel = element("label", { class: "kind" }, "What it is ", bench.kindField);
  bench.doneButton = button("Done", () => doneEdit(bench), { class: "main" });
  bench.cornerButton = button("Take back a corner", () => takeBackCorner(bench));
  bench.editBar = element(
    "div",
    { class: "bar edits", hidden: true },
    bench.hint,
    bench.kindLabel,
    bench.doneButton,
    bench.cornerButton,
    button("Cancel", () => cancelEdit(bench)),
  );
  bench.renameField = element("select", {
    "aria-label": "Kind of this flaw",
    onchange: (event) => rename(bench, event.target.value),
  });
  bench.renameLabel = element("label", { class: "kind" }, "It is a ", bench.renameField);
  bench.drawButton = button("Draw a flaw", () => startEdit(bench, "draw"));
  bench.reshapeButton = button("Reshape", () => startEdit(bench, "reshape"));
  bench.divideButton = button("Divide in two", () => startEdit(bench, "divide"));
  bench.joinButton = button("Join with another", () => startEdit(bench, "join"));
  bench.deleteButton = button("Delete", () => deleteChosen(bench));
  bench.more = element(
    "details",
    { class: "more" },
    element("summary", {}, "Draw and mend"),
    element(
      "div",
      { class: "bar small" },
      bench.drawButton,
      bench.reshapeButton,
      bench.divideButton,
      bench.joinButton,
      bench.deleteButton,
      bench.renameLabel,
    ),
  );
}

function fillKinds(bench) {
  for (const field of [bench.kindField, bench.renameField]) {
    keyed(
      field,
      bench.data.kinds,
      (kind) => kind.value,
      (kind) => {
        const option = element("option", { value: kind.value });
        setText(option, kind.word);
        return option;
      },
      () => {},
    );
  }
}

function rename(bench, kind) {
  const { flaw } = bench.chosen();
  if (flaw) bench.say("rename", { flaw, kind });
}

function deleteChosen(bench) {
  const { face, flaw } = bench.chosen();
  if (!flaw) return;
  bench.memory.chosen.set(bench.id, { face, flaw: null });
  bench.say("delete", { flaw });
}

// -- geometry

function scaleNow(bench) {
  return windowOf(bench, bench.faceHere()).scale;
}

function spotOf(bench, event) {
  return spotOn(bench.loupe, event).map((mm) => Math.round(mm * 100) / 100);
}

const distance = ([x, y], [u, v]) => Math.hypot(x - u, y - v);

function nearest(ring, spot) {
  let best = { at: -1, distance: Infinity };
  ring.forEach((corner, at) => {
    const far = distance(corner, spot);
    if (far < best.distance) best = { at, distance: far };
  });
  return best;
}

function middlesOf(ring) {
  return ring.map(([x, y], at) => {
    const [u, v] = ring[(at + 1) % ring.length];
    return [(x + u) / 2, (y + v) / 2];
  });
}

// A window that the flaw fills, so that a finger can tell its corners apart.
function closeTo(bench, ring) {
  const box = boxOf(ring);
  const [width, height] = windowSize(bench);
  const scale = Math.max((box.width * 1.9) / width, (box.height * 1.8) / height);
  return { x: box.x, y: box.y, scale: Math.max(scale, CLOSEST_MM / width) };
}

// The corner that matters least goes first: the smallest triangle with its neighbours
// (Visvalingam and Whyatt, 1993).
function fewerCorners(ring, mmPerPx) {
  const round = ring.reduce((sum, one, at) => sum + distance(one, ring[(at + 1) % ring.length]), 0);
  const room = Math.floor(round / mmPerPx / APART_PX);
  const most = Math.min(Math.max(room, FEWEST), MOST);
  const left = ring.map((corner) => [...corner]);
  const area = (at) => {
    const [[ax, ay], [bx, by], [cx, cy]] = [-1, 0, 1].map(
      (step) => left[(at + step + left.length) % left.length],
    );
    return Math.abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay));
  };
  while (left.length > most) {
    let least = 0;
    for (let at = 1; at < left.length; at++) if (area(at) < area(least)) least = at;
    left.splice(least, 1);
  }
  return left;
}

function freeName(bench) {
  const taken = new Set(bench.model().flaws.map((flaw) => flaw.id));
  let number = 1;
  while (taken.has(`F${number}`)) number += 1;
  return `F${number}`;
}
