// Drawing people on the court: user units are metres, across is y, down is x.
const NS = "http://www.w3.org/2000/svg";
const svg = (name, attrs, text) => {
  const e = document.createElementNS(NS, name);
  for (const k in attrs) e.setAttribute(k, attrs[k]);
  if (text !== undefined) e.textContent = text;
  return e;
};
const f2 = (v) => v.toFixed(2);
const TRAIL_S = 2;

const drawTrails = (shown, frame) => {
  const g = el("r-trails");
  g.replaceChildren();
  if (!el("r-trail").checked) return;
  const from = Math.max(0, Math.floor(frame) - TRAIL_S * HZ);
  for (const t of shown.attack) {
    let d = "", pen = false;
    for (let f = from; f <= frame; f++) {
      if (t.known[f] === 2) { pen = false; continue; }
      d += (pen ? "L" : "M") + f2(t.y[f]) + " " + f2(t.x[f]);
      pen = true;
    }
    const p = placeAt(t, frame);
    if (p && pen) d += "L" + f2(p[1]) + " " + f2(p[0]);
    if (d) g.append(svg("path", { class: "trail", d }));
  }
};

// The whole declared path of the step, then where each role should be now and how far off it is.
const drawGhosts = (shown, now) => {
  const g = el("r-ghosts");
  g.replaceChildren();
  const table = el("r-off").tBodies[0];
  table.replaceChildren();
  el("r-off").hidden = !now;
  if (!now) return;
  const { p } = shown, { run } = now.seg, node = data.nodes[now.step.node];
  const flip = run.left ? -1 : 1, seen = el("r-declared").checked;
  if (seen && el("r-trail").checked) {
    for (const row of motion(now.step.node).slice(0, -1)) {
      const d = row.map((q, i) => (i ? "L" : "M") + f2(q[1] * flip) + " " + f2(q[0])).join("");
      g.append(svg("path", { class: "trail-d", d }));
    }
  }
  data.roles.forEach((role, i) => {
    const [x, y] = now.places[i];
    const who = run.players[i], k = p.attack.indexOf(who);
    const me = k < 0 ? null : placeAt(shown.attack[k], shown.frame);
    const tol = (node.tol[i] || 0) / 100;
    const off = me ? Math.hypot(me[0] - x, me[1] - y) : null;
    const far = off !== null && off > tol;
    const tr = document.createElement("tr");
    const cells = [role, data.sessions[p.s].players[who]?.[0] ?? "?", off === null ? "unknown" : lengthText(off),
      far ? "over " + lengthText(tol) : "of " + lengthText(tol)];
    cells.forEach((c, j) => {
      const td = document.createElement(j ? "td" : "th");
      if (!j) td.scope = "row";
      if (j === 2) td.className = far ? "n over" : "n";
      td.textContent = c;
      tr.append(td);
    });
    table.append(tr);
    if (!seen) return;
    if (off !== null && off > 0.5) {
      g.append(svg("path", { class: far ? "gap far" : "gap", d: `M${f2(y)} ${f2(x)}L${f2(me[1])} ${f2(me[0])}` }));
    }
    g.append(svg("circle", { class: "ghost", cx: f2(y), cy: f2(x), r: 0.45 }));
    g.append(svg("text", { class: "ghost-no", x: f2(y), y: f2(x + 0.18) }, role));
    if (far) {
      g.append(svg("text", { class: "gap-by", x: f2((y + me[1]) / 2), y: f2((x + me[0]) / 2) }, lengthText(off)));
    }
  });
  if (seen) {
    const [x, y] = now.places[data.roles.length];
    g.append(svg("circle", { class: "ghost-ball", cx: f2(y), cy: f2(x), r: 0.22 }));
  }
};

const drawPeople = (shown, now) => {
  const g = el("r-people"), { p, frame } = shown;
  g.replaceChildren();
  if (el("r-defend").checked) {
    for (const t of shown.defend) {
      const q = placeAt(t, frame);
      if (q) g.append(svg("path", { class: "them", d: `M${f2(q[1] - 0.3)} ${f2(q[0] - 0.3)}l.6 .6m0 -.6l-.6 .6` }));
    }
  }
  shown.attack.forEach((t, i) => {
    const q = placeAt(t, frame);
    if (!q) return;
    g.append(svg("circle", { class: q[2] === 1 ? "me fill" : "me", cx: f2(q[1]), cy: f2(q[0]), r: 0.45 }));
    const who = p.attack[i], r = now ? now.seg.run.players.indexOf(who) : -1;
    const [label, number] = data.sessions[p.s].players[who];
    const text = el("r-roles").checked && r >= 0 ? data.roles[r] : number || label.slice(0, 3);
    g.append(svg("text", { class: "me-no", x: f2(q[1]), y: f2(q[0] + 0.2) }, text));
  });
  if (shown.ball) {
    const q = placeAt(shown.ball, frame);
    // In a player's hands it is drawn at the rim of the circle, so that the number can be read.
    const holder = q && shown.attack.map((t) => placeAt(t, frame)).find((h) => h && Math.hypot(h[0] - q[0], h[1] - q[1]) < 0.5);
    if (holder) {
      const dx = q[0] - holder[0], dy = q[1] - holder[1], d = Math.hypot(dx, dy);
      q[0] = holder[0] + (d > 0.1 ? dx / d : 0.7) * 0.5;
      q[1] = holder[1] + (d > 0.1 ? dy / d : 0.7) * 0.5;
    }
    if (q) g.append(svg("circle", { class: q[2] === 1 ? "ball fill" : "ball", cx: f2(q[1]), cy: f2(q[0]), r: 0.2 }));
  }
};
