// Links into the replay, plots by keyboard, filters, theme.
const bySession = new Map(data.possessions.map((p, i) => [`s${p.s}p${p.n}`, i]));

document.addEventListener("click", (e) => {
  const a = e.target.closest("a[data-t]");
  if (a) {
    const index = bySession.get(a.getAttribute("href").slice(1));
    if (index === undefined) return;
    e.preventDefault();
    show(index, Number(a.dataset.t), a);
    return;
  }
  const f = e.target.closest("a.filter");
  if (f && form) {
    form.reset();
    form.elements.option.value = f.dataset.option;
    filter();
  }
});

// One stop for the Tab key per plot; arrows go from mark to mark.
for (const plot of document.querySelectorAll("svg[role=group]")) {
  const dots = [...plot.querySelectorAll("a.dot")];
  dots.forEach((d, i) => d.setAttribute("tabindex", i ? -1 : 0));
  plot.addEventListener("keydown", (e) => {
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[e.key];
    const i = dots.indexOf(document.activeElement);
    if (!by || i < 0) return;
    e.preventDefault();
    const next = dots[Math.min(Math.max(i + by, 0), dots.length - 1)];
    dots[i].setAttribute("tabindex", -1);
    next.setAttribute("tabindex", 0);
    next.focus();
  });
}

const form = document.querySelector(".filters"), list = document.querySelector(".possessions");
const items = [...list.children];
const value = (name) => form.elements[name]?.value || "";
const fits = (p) => {
  if (value("session") && p.s !== Number(value("session"))) return false;
  const person = data.sessions[p.s].person;
  if (value("player") && !p.attack.some((i) => person[i] === Number(value("player")))) return false;
  const option = value("option"), verdict = value("verdict");
  if (!option && !verdict) return true;
  return p.segments.some((s) => (!verdict || s.kind === verdict) && (!option || (s.run && s.run.option === Number(option))));
};
const filter = () => {
  let n = 0;
  for (const li of items) {
    const ok = fits(data.possessions[li.dataset.i]);
    li.hidden = !ok;
    n += ok;
  }
  const order = value("order"), key = (li) => {
    const p = data.possessions[li.dataset.i];
    return order === "unsure" ? p.sure : order === "faults" ? -p.faults : 0;
  };
  list.append(...[...items].sort((a, b) => key(a) - key(b)));
  form.querySelector(".shown").textContent = `${n} of ${items.length} possessions`;
};
form.hidden = false;
form.addEventListener("change", filter);
form.addEventListener("submit", (e) => e.preventDefault());
form.addEventListener("reset", () => setTimeout(filter));
filter();

// A link of the form #s0p12 or #s0p12@34.5 opens that moment.
const fromAddress = () => {
  const m = /^#(s\d+p\d+)(?:@(-?[\d.]+))?$/.exec(location.hash);
  const index = m && bySession.get(m[1]);
  if (m && index !== undefined) show(index, m[2] === undefined ? -1 : Number(m[2]));
};
addEventListener("hashchange", fromAddress);
fromAddress();
// Beside the text there is room: the first run of an option stands ready there.
if (!shown && data.possessions.length && matchMedia("(min-width: 1180px)").matches) {
  const first = Math.max(data.possessions.findIndex((p) => p.segments.some((s) => s.run)), 0);
  show(first, data.possessions[first].segments.find((s) => s.run)?.from ?? -1);
}

const theme = el("theme"), root = document.documentElement;
const dark = () => root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
const nameTheme = () => { theme.textContent = dark() ? "Light" : "Dark"; };
theme.hidden = false;
theme.addEventListener("click", () => { root.dataset.theme = dark() ? "light" : "dark"; nameTheme(); });
nameTheme();

// Which section is being read.
const links = new Map([...document.querySelectorAll("nav a")].map((a) => [a.getAttribute("href").slice(1), a]));
const watch = new IntersectionObserver((entries) => {
  for (const e of entries) {
    if (!e.isIntersecting) continue;
    for (const a of links.values()) a.removeAttribute("aria-current");
    links.get(e.target.id)?.setAttribute("aria-current", "true");
  }
}, { rootMargin: "-20% 0px -70% 0px" });
for (const id of links.keys()) watch.observe(el(id));
