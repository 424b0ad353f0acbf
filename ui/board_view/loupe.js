// The window over the wood: where it stands, how close, and what moves it.

const CLOSEST_MM = 60; // window width at closest range
const ROUND_A_FLAW_MM = 260; // least window width when a flaw is shown

// Along and across the board, px.
function windowSize(bench) {
  const [wide, high] = [bench.loupe.clientWidth || 900, bench.loupe.clientHeight || 300];
  return bench.upright ? [high, wide] : [wide, high];
}

function wholeFace(bench, face) {
  const [x0, y0, x1, y1] = face.frame;
  const [width, height] = windowSize(bench);
  return {
    x: (x0 + x1) / 2,
    y: (y0 + y1) / 2,
    scale: Math.max((x1 - x0) / width, (y1 - y0) / height),
  };
}

function windowOf(bench, face) {
  const name = `${bench.id}-${face.number}`;
  if (!bench.memory.windows.has(name)) bench.memory.windows.set(name, wholeFace(bench, face));
  return bench.memory.windows.get(name);
}

function roundFlaw(bench, flaw, face) {
  const box = boxOf(flaw.rings[face.number]);
  const [width, height] = windowSize(bench);
  const wide = Math.max(box.width * 1.6, ROUND_A_FLAW_MM) / width;
  const high = Math.max(box.height * 1.8, 60) / height;
  const whole = wholeFace(bench, face).scale;
  return { x: box.x, y: box.y, scale: Math.min(Math.max(wide, high), whole) };
}

function paintWindow(bench, model, face, flaw) {
  const key = `${bench.id}-${face.number}-${flaw?.id ?? ""}`;
  if (bench.aim !== key) {
    // The window follows the choice, and stays where the user moved it otherwise.
    if (flaw?.rings[face.number])
      bench.memory.windows.set(`${bench.id}-${face.number}`, roundFlaw(bench, flaw, face));
    bench.aim = key;
  }
  const view = windowOf(bench, face);
  paintFace(bench.loupe, face, model, flaw?.id, {
    showParts: bench.memory.showParts,
    mmPerPx: view.scale,
    upright: bench.upright,
  });
  paintThrough(bench, model, face, view);
  bench.loupe.setAttribute(
    "aria-label",
    `Face ${face.number} of ${bench.id}${flaw ? `, close at ${flaw.id}, ${wordOf(flaw)}` : ""}`,
  );
  moveWindow(bench, face, view);
}

// Only the window moves: no shape is drawn anew.
function moveWindow(bench, face, view) {
  const [width, height] = windowSize(bench);
  const [w, h] = [width * view.scale, height * view.scale];
  bench.loupe.setAttribute(
    "viewBox",
    viewBoxOf(bench.upright, view.x - w / 2, view.y - h / 2, w, h),
  );
  for (const text of bench.loupe.querySelectorAll(".label")) {
    text.setAttribute("font-size", 13 * view.scale);
    text.setAttribute("stroke-width", 3 * view.scale);
  }
  paintEdit(bench);
  const frame = bench.strips.querySelector(".here .frame");
  if (frame) {
    for (const [name, value] of Object.entries({
      x: view.x - w / 2,
      y: view.y - h / 2,
      width: w,
      height: h,
    })) {
      frame.setAttribute(name, value);
    }
  }
  paintScale(bench, view);
}

const STEPS = {
  mm: [10, 20, 50, 100, 200, 500, 1000].map((mm) => [mm, mm < 1000 ? `${mm} mm` : "1 m"]),
  inch: [0.5, 1, 2, 4, 8, 12, 24, 36].map((inches) => [
    25.4 * inches,
    inches < 12 ? `${inches === 0.5 ? "1/2" : inches} in` : `${inches / 12} ft`,
  ]),
};

function paintScale(bench, view) {
  const steps = STEPS[bench.data.units];
  const wide = bench.loupe.clientWidth || 900;
  // Shorter than its words the bar would be covered by them.
  const long = steps.filter(([mm]) => mm / view.scale >= 52);
  const [mm, words] =
    long.filter(([mm]) => mm / view.scale < wide * 0.35).pop() ?? long[0] ?? steps.at(-1);
  bench.scale.style.width = `${mm / view.scale}px`;
  setText(bench.scale, words);
}

function showsAll(bench) {
  const face = bench.faceHere();
  return windowOf(bench, face).scale >= wholeFace(bench, face).scale;
}

function forgetWindow(bench, number) {
  bench.memory.windows.delete(`${bench.id}-${number}`);
}

function zoom(bench, by, at = null) {
  const face = bench.faceHere();
  const view = windowOf(bench, face);
  const [width] = windowSize(bench);
  const scale = Math.min(
    Math.max(view.scale * by, CLOSEST_MM / width),
    wholeFace(bench, face).scale * 1.2,
  );
  if (at) {
    // The wood under the pointer stays under it.
    const [along, across] = alongAcross(bench.upright, at.x, at.y);
    view.x += along * (view.scale - scale);
    view.y += across * (view.scale - scale);
  }
  view.scale = scale;
  moveWindow(bench, face, view);
}

function pan(bench, dx, dy) {
  const face = bench.faceHere();
  const view = windowOf(bench, face);
  const [x0, y0, x1, y1] = face.frame;
  const [along, across] = alongAcross(bench.upright, dx, dy);
  view.x = Math.min(Math.max(view.x - along * view.scale, x0), x1);
  view.y = Math.min(Math.max(view.y - across * view.scale, y0), y1);
  moveWindow(bench, face, view);
}
