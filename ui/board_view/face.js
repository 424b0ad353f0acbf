// The drawing of one face: picture, outline, parts, flaws.

// The picture of a face where it lies, as a person sees it.
function pictureOf(face) {
  const [x, y, width, height] = face.place;
  const image = drawn("image", { href: face.url, x, y, width, height });
  image.setAttribute("preserveAspectRatio", "none");
  const group = drawn("g");
  // The file holds face 2 as seen through the board; mirror it back about its own middle.
  if (face.mirror === "x")
    group.setAttribute("transform", `translate(${2 * x + width} 0) scale(-1 1)`);
  if (face.mirror === "y")
    group.setAttribute("transform", `translate(0 ${2 * y + height}) scale(1 -1)`);
  group.append(image);
  return group;
}

function paintFace(svg, face, model, chosen, options) {
  const [x0, y0, x1, y1] = face.frame;
  const sheet = sheetOf(svg, options.upright);
  let ground = sheet.querySelector(".ground");
  const stamp = `${face.url}|${face.mirror}|${face.place}`;
  if (!ground || ground.dataset.stamp !== stamp) {
    ground?.remove();
    ground = drawn("g", { class: "ground" });
    ground.dataset.stamp = stamp;
    if (face.url) {
      ground.append(pictureOf(face));
    } else {
      ground.append(
        drawn("rect", { class: "no-photo", x: x0, y: y0, width: x1 - x0, height: y1 - y0 }),
      );
    }
    sheet.prepend(ground);
  }
  let marks = sheet.querySelector(".marks");
  if (!marks) {
    marks = drawn("g", { class: "marks" });
    sheet.append(marks);
  }
  const shapes = [drawn("polygon", { class: "outline", points: corners(face.outline) })];
  if (options.showParts) {
    for (const part of model.parts) {
      const ring = part.rings[face.number];
      if (!ring) continue;
      const box = boxOf(part.rooms?.[face.number] ?? ring);
      shapes.push(drawn("polygon", { class: `part ${model.layout}`, points: corners(ring) }));
      const [size, least] = [13 * options.mmPerPx, 8 * options.mmPerPx];
      const shows = part.show_face === face.number && part.written.length === 1 ? " (show)" : "";
      const whole = part.written.map((row) => row + shows);
      const { upright } = options;
      const [rows, fits] = rowsThatFit(whole, part.written, box, least, size, upright);
      if (rows.length && fits >= least) {
        const text = drawn("text", {
          class: "label",
          x: box.x,
          y: box.y,
          "font-size": fits,
          "stroke-width": 3 * options.mmPerPx,
        });
        layLabel(text, rows, box, fits, upright);
        shapes.push(text);
      }
    }
  }
  for (const flaw of model.flaws) {
    const ring = flaw.rings[face.number];
    if (!ring) continue;
    const points = corners(ring);
    const state = `${flaw.state}${flaw.id === chosen ? " chosen" : ""}`;
    const group = drawn("g", { class: `flaw ${state} kind-${flaw.kind}` });
    group.dataset.flaw = flaw.id;
    group.append(
      drawn("polygon", { class: "halo", points }),
      drawn("polygon", { class: "casing", points }),
      drawn("polygon", { class: "line", points }),
    );
    shapes.push(group);
  }
  marks.replaceChildren(...shapes);
}
