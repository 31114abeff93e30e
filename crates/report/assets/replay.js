// The replay: one possession shown at one time.
let shown = null;
let playing = null;
let origin = null;
const panel = el("replay"), scrub = el("r-scrub"), playButton = el("r-play");
const timeNow = () => shown.p.t0 + shown.frame / HZ;

const place = (frame) => {
  shown.frame = Math.min(Math.max(frame, 0), shown.p.frames - 1);
  const t = timeNow(), p = shown.p, now = declaredAt(p, t);
  drawTrails(shown, shown.frame);
  drawGhosts(shown, now);
  drawPeople(shown, now);
  const seg = p.segments.find((s) => t >= s.from && t < s.to) || null;
  let text = seg ? seg.label : t < p.from ? "before the possession" : "after the possession";
  if (seg && seg.run) {
    text += `: ${VERDICTS[seg.kind]}`;
    if (seg.run.left) text += ", to the left";
    if (now) text += `; step ${data.nodes[now.step.node].step + 1} of ${seg.run.steps.length}`;
  }
  const does = now ? data.nodes[now.step.node].does.filter(([a, b]) => now.at >= a - 1 && now.at <= b + 1).map((d) => d[2]) : [];
  const line = el("r-now"), small = document.createElement("small");
  small.textContent = does.length ? "declared now: " + does.join("; ") : "";
  line.replaceChildren(`${clock(t)} ${text}`, small);
  scrub.value = Math.round(shown.frame);
  scrub.setAttribute("aria-valuetext", `${clock(t)}, ${text}`);
  const hand = el("r-line").querySelector(".hand");
  if (hand) {
    const x = shown.x(t);
    hand.setAttribute("x1", x); hand.setAttribute("x2", x);
  }
  let current = -1;
  p.marks.forEach((m, i) => { if (m.t <= t + 0.051) current = i; });
  if (current !== shown.mark) {
    shown.mark = current;
    const list = el("r-marks");
    list.querySelector("[aria-current]")?.removeAttribute("aria-current");
    const item = list.children[current];
    if (item) {
      item.firstChild.setAttribute("aria-current", "true");
      list.scrollTop = item.offsetTop - list.offsetTop - 40;
    }
  }
};
const VERDICTS = { ran: "ran", faults: "ran with faults", broken: "broken off" };

// Segments as bars told by shape, steps as cuts in them, marks above: a hollow triangle is a cue,
// a full one who went, a diamond a fault, a bar the ball.
const drawLine = () => {
  const line = el("r-line"), p = shown.p, W = 600;
  line.setAttribute("viewBox", `0 0 ${W} 62`);
  line.setAttribute("preserveAspectRatio", "none");
  const span = (p.frames - 1) / HZ || 1;
  const x = shown.x = (t) => 8 + (t - p.t0) / span * (W - 16);
  line.replaceChildren();
  const bars = { set: [36, 6], off: [39, 15] };
  for (const s of p.segments) {
    const a = x(s.from), w = Math.max(x(s.to) - a - 1.5, 1), [y, h] = bars[s.kind] || [28, 26];
    line.append(svg("rect", { class: "b-" + s.kind, x: a, y, width: w, height: h }));
    if (s.kind === "faults" || s.kind === "broken") {
      line.append(svg("rect", { fill: `url(#h-${s.kind})`, x: a, y, width: w, height: h }));
    }
    for (const step of (s.run ? s.run.steps.slice(1) : [])) {
      line.append(svg("path", { class: "step", d: `M${x(step.from)} ${y}v${h}` }));
    }
  }
  for (const m of p.marks) {
    const v = x(m.t);
    const d = { cue: `M${v - 5} 3h10l-5 9z`, went: `M${v - 5} 24h10l-5 -9z`, fault: `M${v} 3l6 6l-6 6l-6 -6z`, ball: `M${v - 1} 17h2v7h-2z` }[m.kind];
    const mark = svg("path", { class: "m-" + m.kind, d });
    mark.append(svg("title", {}, `${clock(m.t)} ${m.text}`));
    line.append(mark);
  }
  line.append(svg("line", { class: "hand", x1: 0, x2: 0, y1: 0, y2: 60 }));
};

const fillMarks = () => {
  const list = el("r-marks");
  list.replaceChildren(...shown.p.marks.map((m) => {
    const li = document.createElement("li"), b = document.createElement("button"), t = document.createElement("span");
    b.type = "button";
    t.textContent = clock(m.t);
    b.append(t, m.text);
    b.addEventListener("click", () => { stop(); place((m.t - shown.p.t0) * HZ); });
    li.append(b);
    return li;
  }));
};

const show = (index, time, from) => {
  stop();
  shown = unpack(index);
  shown.frame = 0;
  shown.mark = -2;
  if (from) origin = from;
  const p = shown.p, name = `${data.sessions[p.s].name}, possession ${p.n}`;
  el("r-body").hidden = false;
  panel.classList.add("open");
  document.body.classList.add("replaying");
  el("r-back").hidden = !origin;
  el("r-close").hidden = false;
  el("r-title").textContent = name;
  scrub.max = p.frames - 1;
  drawLine();
  fillMarks();
  place(((time < 0 || time === undefined ? p.from : time) - p.t0) * HZ);
  el("r-say").textContent = `Replay of ${name} at ${clock(timeNow())}`;
  document.querySelector(".possessions .now")?.classList.remove("now");
  document.querySelector(`.possessions [data-i="${index}"]`)?.classList.add("now");
  if (from) playButton.focus({ preventScroll: true });
};

const stop = () => {
  if (playing !== null) cancelAnimationFrame(playing);
  playing = null;
  playButton.textContent = "Play";
};
const play = () => {
  if (shown.frame >= shown.p.frames - 1) place(0);
  playButton.textContent = "Pause";
  let last = performance.now();
  const tick = (now) => {
    place(shown.frame + (now - last) / 1000 * HZ * Number(el("r-speed").value));
    last = now;
    if (shown.frame >= shown.p.frames - 1) stop();
    else playing = requestAnimationFrame(tick);
  };
  playing = requestAnimationFrame(tick);
};
const toggle = () => (playing === null ? play() : stop());
const stepBy = (frames) => { stop(); place(Math.round(shown.frame + frames)); };
const toMark = (by) => {
  stop();
  const t = timeNow(), marks = shown.p.marks;
  const next = by > 0 ? marks.find((m) => m.t > t + 0.06) : marks.filter((m) => m.t < t - 0.06).pop();
  if (next) place((next.t - shown.p.t0) * HZ);
};
// The next possession that the filters leave in the list.
const toPossession = (by) => {
  const order = [...document.querySelectorAll(".possessions > li:not([hidden])")].map((li) => Number(li.dataset.i));
  const k = order.indexOf(shown.index);
  const next = order[k < 0 ? 0 : k + by];
  if (next !== undefined) show(next, -1);
};
const back = () => {
  stop();
  panel.classList.remove("open");
  document.body.classList.remove("replaying");
  const to = origin;
  origin = null;
  el("r-back").hidden = true;
  if (to && to.isConnected) {
    to.scrollIntoView({ block: "nearest" });
    to.focus();
  }
};

panel.classList.add("live");
playButton.addEventListener("click", toggle);
el("r-prev").addEventListener("click", () => toMark(-1));
el("r-next").addEventListener("click", () => toMark(1));
el("r-up").addEventListener("click", () => toPossession(-1));
el("r-down").addEventListener("click", () => toPossession(1));
el("r-back").addEventListener("click", back);
el("r-close").addEventListener("click", () => { back(); el("r-body").hidden = true; el("r-close").hidden = true; el("r-title").textContent = "Choose a possession, a mark or a time."; });
scrub.addEventListener("input", () => { stop(); place(Number(scrub.value)); });
for (const id of ["r-declared", "r-trail", "r-defend", "r-roles"]) el(id).addEventListener("change", () => place(shown.frame));
el("r-line").addEventListener("click", (e) => {
  const box = el("r-line").getBoundingClientRect();
  const share = ((e.clientX - box.left) / box.width * 600 - 8) / 584;
  stop();
  place(share * (shown.p.frames - 1));
});
panel.addEventListener("keydown", (e) => {
  if (!shown || el("r-body").hidden || e.ctrlKey || e.altKey || e.metaKey || e.target.tagName === "SELECT") return;
  const by = e.shiftKey ? HZ : 1;
  const keys = {
    " ": e.target.tagName === "BUTTON" || e.target.type === "checkbox" ? null : toggle,
    ArrowLeft: () => stepBy(-by), ArrowRight: () => stepBy(by),
    Home: () => stepBy(-1e9), End: () => stepBy(1e9),
    "[": () => toMark(-1), "]": () => toMark(1),
    p: () => toPossession(-1), n: () => toPossession(1), P: () => toPossession(-1), N: () => toPossession(1),
    Escape: back,
  };
  if (keys[e.key]) {
    e.preventDefault();
    keys[e.key]();
  }
});
