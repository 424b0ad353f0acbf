// The other face laid over this one, as if the board were of glass.
//
// The other face is drawn as it lies behind this one: mirrored back through the board. What comes
// through the board shows as one shape with its ends on both faces.

// The move between what a person sees of one face and of the other; the same both ways.
function throughBoard(model, face, other) {
  const first = boxOf(model.faces.find((one) => one.number === 1).outline);
  const mirror = face.mirror || other.mirror;
  return mirror === "x" ? [-1, 0, 0, 1, first.x1, 0] : [1, 0, 0, -1, 0, first.y1];
}

const movedBy = ([a, , , d, e, f], ring) => ring.map(([x, y]) => [a * x + e, d * y + f]);

function otherFace(model, face) {
  return model.faces.find((one) => one.number !== face.number && one.url);
}

function canLayOver(model, face) {
  return Boolean(face.url && otherFace(model, face));
}

function paintThrough(bench, model, face, view) {
  const svg = bench.loupe;
  const sheet = sheetOf(svg, bench.upright);
  const share = bench.memory.through;
  const other = otherFace(model, face);
  if (!share || !face.url || !other) {
    sheet.querySelector(":scope > .through")?.remove();
    sheet.querySelector(":scope > .joined")?.remove();
    return;
  }
  const move = throughBoard(model, face, other);
  let ground = sheet.querySelector(":scope > .through");
  const stamp = `${other.url}|${move}`;
  if (!ground || ground.dataset.stamp !== stamp) {
    ground?.remove();
    ground = drawn("g", { class: "through", transform: `matrix(${move.join(" ")})` });
    ground.dataset.stamp = stamp;
    ground.append(pictureOf(other));
  }
  ground.style.opacity = share;
  const marks = sheet.querySelector(":scope > .marks");
  sheet.insertBefore(ground, marks);
  let joined = sheet.querySelector(":scope > .joined");
  if (!joined) joined = drawn("g", { class: "joined" });
  sheet.insertBefore(joined, marks);
  const shapes = [
    drawn("polygon", { class: "outline beyond", points: corners(movedBy(move, other.outline)) }),
  ];
  for (const flaw of model.flaws) {
    const ring = flaw.rings[other.number];
    if (!ring || flaw.state === "struck") continue;
    const behind = movedBy(move, ring);
    const group = drawn("g", { class: `flaw beyond kind-${flaw.kind}` });
    const here = flaw.rings[face.number];
    if (here) {
      const [from, to] = [boxOf(here), boxOf(behind)];
      const hull = corners(hullOf([...here, ...behind]));
      group.append(drawn("polygon", { class: "passage", points: hull }));
      for (const look of ["casing", "line"])
        group.append(drawn("line", { class: look, x1: from.x, y1: from.y, x2: to.x, y2: to.y }));
    }
    for (const look of ["casing", "line"])
      group.append(drawn("polygon", { class: look, points: corners(behind) }));
    if (here) {
      const to = boxOf(behind);
      group.append(drawn("circle", { class: "end", cx: to.x, cy: to.y, r: 4 * view.scale }));
    }
    shapes.push(group);
  }
  joined.replaceChildren(...shapes);
}

// The smallest shape without a dent round some points (monotone chain).
function hullOf(points) {
  const sorted = [...points].sort(([x, y], [u, v]) => x - u || y - v);
  const half = (list) => {
    const chain = [];
    for (const [x, y] of list) {
      while (chain.length > 1) {
        const [[a, b], [c, d]] = chain.slice(-2);
        if ((c - a) * (y - b) - (d - b) * (x - a) > 0) break;
        chain.pop();
      }
      chain.push([x, y]);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

function buildThrough(bench) {
  bench.throughButton = button("", () => toggleThrough(bench), {
    class: "wide",
    "aria-pressed": "false",
  });
  bench.throughSlide = element("input", {
    type: "range",
    min: 0,
    max: 100,
    step: 5,
    oninput: (event) => {
      bench.memory.through = Math.max(event.target.value / 100, 0.001);
      bench.paint();
    },
  });
  bench.throughNames = [element("span"), element("span")];
  bench.throughBar = element(
    "label",
    { class: "blend" },
    bench.throughNames[0],
    bench.throughSlide,
    bench.throughNames[1],
  );
  bench.window.append(bench.throughBar);
}

function toggleThrough(bench) {
  bench.memory.through = bench.memory.through ? 0 : 0.5;
  bench.paint();
}

function paintThroughBar(bench, model, face) {
  const may = canLayOver(model, face);
  const on = Boolean(may && bench.memory.through);
  const other = otherFace(model, face);
  bench.throughButton.hidden = !may;
  bench.throughBar.hidden = !on;
  if (!may) return;
  setText(bench.throughButton, `Lay face ${other.number} over face ${face.number}`);
  bench.throughButton.title = `Face ${other.number} as it lies behind face ${face.number} (key O)`;
  bench.throughButton.setAttribute("aria-pressed", on);
  if (!on) return;
  setText(bench.throughNames[0], `Face ${face.number}`);
  setText(bench.throughNames[1], `Face ${other.number}`);
  bench.throughSlide.setAttribute("aria-label", `How much of face ${other.number} shows`);
  bench.throughSlide.value = Math.round(bench.memory.through * 100);
}
