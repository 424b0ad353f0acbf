// Drawing round a flaw in one stroke, as with chalk: the stroke becomes an outline with corners.

const SHORTEST_PX = 40; // a shorter stroke is a tap that slipped

// Only where nothing is drawn yet: then a finger that moves draws, and later it moves the picture.
function beginStroke(bench, event) {
  const edit = bench.edit;
  if (edit?.mode !== "draw" || edit.ring.length) return;
  edit.stroke = [spotOf(bench, event)];
}

function goOnStroke(bench, event) {
  bench.edit.stroke.push(spotOf(bench, event));
  paintEdit(bench);
}

// A second finger pinches, or the phone itself takes the finger: what was drawn so far is gone.
function forgetStroke(bench) {
  if (!bench.edit?.stroke) return;
  bench.edit.stroke = null;
  paintEdit(bench);
}

function endStroke(bench) {
  const stroke = bench.edit?.stroke;
  if (!stroke) return;
  bench.edit.stroke = null;
  const scale = scaleNow(bench);
  const long = stroke.slice(1).reduce((sum, spot, at) => sum + distance(spot, stroke[at]), 0);
  if (long >= SHORTEST_PX * scale && stroke.length > 2)
    bench.edit.ring = fewerCorners(stroke, scale);
  bench.paint();
}
