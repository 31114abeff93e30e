// Data of the page, unpacked when it is needed.
const el = (id) => document.getElementById(id);
const data = JSON.parse(el("payload").textContent);
const HZ = 10;

// Variable-length integers, seven bits a byte, signed ones zigzagged.
const reader = (text) => {
  const raw = atob(text);
  let at = 0;
  const unsigned = () => {
    let v = 0, place = 1, b;
    do {
      b = raw.charCodeAt(at++);
      v += (b & 127) * place;
      place *= 128;
    } while (b & 128);
    return v;
  };
  const signed = () => {
    const z = unsigned();
    return z % 2 ? -(z + 1) / 2 : z / 2;
  };
  return { unsigned, signed };
};

// A track: x, y in metres and what is known (0 measured, 1 filled, 2 unknown), by replay frame.
const readTrack = (r, frames) => {
  const known = new Uint8Array(frames), x = new Float64Array(frames), y = new Float64Array(frames);
  let f = 0;
  for (let runs = r.unsigned(); runs > 0; runs--) {
    const v = r.unsigned();
    known.fill(v % 3, f, f += Math.floor(v / 3));
  }
  let cx = 0, cy = 0;
  for (f = 0; f < frames; f++) {
    if (known[f] === 2) continue;
    cx += r.signed(); cy += r.signed();
    x[f] = cx / 100; y[f] = cy / 100;
  }
  return { x, y, known };
};

const motions = new Map();
const motion = (node) => {
  if (!motions.has(node)) {
    const d = data.nodes[node], r = reader(d.motion);
    const rows = [];
    for (let i = 0; i <= data.roles.length; i++) {
      let cx = 0, cy = 0;
      const row = [];
      for (let f = 0; f < d.n; f++) {
        cx += r.signed(); cy += r.signed();
        row.push([cx / 100, cy / 100]);
      }
      rows.push(row);
    }
    motions.set(node, rows);
  }
  return motions.get(node);
};

// Everything of one possession, unpacked.
const unpack = (index) => {
  const p = data.possessions[index];
  const r = reader(p.tracks);
  const track = () => readTrack(r, p.frames);
  const attack = p.attack.map(track), defend = p.defend.map(track);
  const ball = p.ball ? track() : null;
  for (const s of p.segments) {
    for (const step of s.run ? s.run.steps : []) {
      if (step.frames) continue;
      const w = reader(step.warp);
      let at = 0;
      step.frames = [];
      for (let i = 0; i < step.count; i++) step.frames.push(at += w.signed());
    }
  }
  return { index, p, attack, defend, ball };
};

// Position at a replay frame that need not be whole; null where unknown.
const placeAt = (t, frame) => {
  const a = Math.floor(frame), b = Math.min(a + 1, t.x.length - 1), s = frame - a;
  if (t.known[a] === 2) return null;
  if (s < 1e-9 || t.known[b] === 2) return [t.x[a], t.y[a], t.known[a]];
  return [t.x[a] + (t.x[b] - t.x[a]) * s, t.y[a] + (t.y[b] - t.y[a]) * s, t.known[s < 0.5 ? a : b]];
};

// The declared places at a time: by role, then the ball. Null outside a run.
const declaredAt = (p, time) => {
  const seg = p.segments.find((s) => s.run && time >= s.from && time <= s.to + 1e-6);
  if (!seg) return null;
  const steps = seg.run.steps;
  const step = steps.find((s) => time >= s.from && time <= s.to + 1e-6);
  if (!step || step.count === 0) return null;
  const i = Math.min(Math.max((time - p.t0) * HZ - step.first, 0), step.count - 1);
  const a = step.frames[Math.floor(i)], b = step.frames[Math.min(Math.floor(i) + 1, step.count - 1)];
  const at = a + (b - a) * (i - Math.floor(i));
  const rows = motion(step.node), flip = seg.run.left ? -1 : 1;
  const places = rows.map((row) => {
    const k = Math.min(Math.floor(at), row.length - 1), m = Math.min(k + 1, row.length - 1), s = at - k;
    return [row[k][0] + (row[m][0] - row[k][0]) * s, (row[k][1] + (row[m][1] - row[k][1]) * s) * flip];
  });
  return { seg, step, at, places };
};

const clock = (t) => {
  const tenths = Math.round(Math.abs(t) * 10);
  return (t < 0 && tenths ? "−" : "") + Math.floor(tenths / 600) + ":" +
    String(Math.floor((tenths % 600) / 10)).padStart(2, "0") + "." + (tenths % 10);
};
const lengthText = (m) => {
  const [per, name] = data.unit;
  return (m / per).toFixed(name === "cm" ? 0 : 1) + " " + name;
};
