// A form: one row a field. Python owns what is typed and what is to be said of it; this file shows both and reports
// every change at once, in order, so that a click on Save can never overtake the last letter.

const PATIENCE_MS = 4000; // a kernel that has not answered by then is busy or gone, and the typist must know
const MARKS = { error: "■ Error", warning: "▲ Warning", gap: "○ Gap" };

const make = (name, className = "", text = "") => Object.assign(document.createElement(name), { className, textContent: text });

function choiceOf(row, text) {
  const box = make("select");
  const known = row.options.some(([value]) => value === text);
  const all = known ? row.options : [...row.options, [text, `${text} (not in the list)`, ""]];
  for (const [value, label] of all) box.append(Object.assign(make("option", "", label), { value }));
  box.value = text;
  return box;
}

function ticksOf(row, text, changed) {
  const group = Object.assign(make("fieldset", "palea-boxes"));
  group.append(make("legend", "palea-hidden", row.label));
  const chosen = new Set(text.split(row.separator.trim()).map((word) => word.trim()));
  const ticks = row.options.map(([value, label, definition]) => {
    const [shown, tick] = [make("label", "palea-tick", label), make("input")];
    Object.assign(tick, { type: "checkbox", value, checked: chosen.has(value) });
    shown.title = definition;
    shown.prepend(tick);
    group.append(shown);
    tick.addEventListener("change", () => changed(ticks.filter((t) => t.checked).map((t) => t.value).join(row.separator)));
    return tick;
  });
  return group;
}

function boxOf(row, text) {
  if (row.kind === "choice") return choiceOf(row, text);
  const box = make(row.kind === "long" ? "textarea" : "input");
  if (row.kind === "long") box.rows = 2;
  else box.type = "text";
  Object.assign(box, { value: text, autocomplete: "off", spellcheck: row.kind === "long", placeholder: row.example });
  if (row.kind === "number") box.inputMode = "decimal";
  return box;
}

const helpOf = (row, text) => row.options?.find(([value]) => value === text && value)?.[2] || row.help;

function rowOf(row, text, id, report) {
  const parts = { shown: make("div", "palea-row"), told: make("p", "palea-told"), help: make("p", "palea-help") };
  const label = make(row.kind === "ticks" ? "span" : "label", "palea-label", row.label);
  label.classList.toggle("palea-must", row.required); // the star is drawn, so that the label's own text stays plain
  parts.help.textContent = helpOf(row, text);
  [parts.told.id, parts.help.id] = [`${id}-told`, `${id}-help`];
  const say = (now) => {
    parts.help.textContent = helpOf(row, now);
    report([[row.name, now]]);
  };
  if (row.kind === "ticks") {
    parts.box = ticksOf(row, text, say);
  } else {
    parts.box = boxOf(row, text);
    Object.assign(parts.box, { id });
    parts.box.dataset.name = row.name;
    label.htmlFor = id;
    if (row.required) parts.box.setAttribute("aria-required", "true");
    parts.box.setAttribute("aria-describedby", `${id}-told ${id}-help`);
    parts.box.addEventListener(row.kind === "choice" ? "change" : "input", () => say(parts.box.value));
  }
  const input = make("div", "palea-input");
  input.append(parts.box, parts.told);
  parts.shown.append(label, input, parts.help);
  return parts;
}

function render({ model, el }) {
  const frame = make("div", "palea-form");
  const alarm = make("p", "palea-alarm");
  alarm.setAttribute("role", "alert");
  el.append(frame, alarm);
  let rows = {};
  let sent = 0;
  let waiting = null;
  let before = "";

  const unheard = () => {
    alarm.textContent = "■ Not kept yet: the kernel does not answer. What you type now is only on this page.";
  };
  const send = (content) => {
    waiting ??= setTimeout(unheard, PATIENCE_MS);
    try {
      model.send({ ...content, at: ++sent });
    } catch { // a kernel that is gone closes its line at once
      unheard();
    }
  };
  const report = (edits) => {
    for (const [name, text] of edits) model.get("typed")[name] = text;
    send({ edits });
  };
  const tell = (marks) => {
    for (const [name, parts] of Object.entries(rows)) {
      const [meaning, sentence] = marks[name] ?? ["", ""];
      parts.told.className = `palea-told palea-${meaning}`;
      parts.told.textContent = sentence ? `${MARKS[meaning]}. ${sentence}` : "";
      parts.box.setAttribute("aria-invalid", meaning === "error");
      if (sentence) parts.shown.closest("details")?.setAttribute("open", "");
    }
  };
  const build = () => {
    const focused = frame.contains(document.activeElement) && document.activeElement.dataset.name;
    const [base, typed] = [`palea-${Math.random().toString(36).slice(2)}`, model.get("typed")];
    const more = make("details");
    more.append(make("summary", "", "More fields"));
    rows = {};
    frame.replaceChildren();
    model.get("rows").forEach((row, k) => {
      rows[row.name] = rowOf(row, typed[row.name] ?? "", `${base}-${k}`, report);
      if (row.heading) frame.append(make("h3", "", row.heading));
      (row.folded ? more : frame).append(rows[row.name].shown);
      if (row.folded && (typed[row.name] ?? "") !== row.kept) more.open = true; // what was filled in is never out of sight
    });
    if (more.childElementCount > 1) frame.append(more);
    tell(model.get("marks"));
    if (focused) rows[focused]?.box.focus();
  };
  const boxes = () => [...frame.querySelectorAll("input, select, textarea")].filter((box) => box.checkVisibility?.() ?? true);

  frame.addEventListener("focusin", ({ target }) => {
    target.dataset.lmSuppressShortcuts = "true"; // asked of the focused element itself: D D would delete the cell
    before = target.value;
  });
  frame.addEventListener("keydown", (event) => {
    const box = event.target;
    if (event.key === "Escape" && box.dataset.name && box.value !== before) {
      box.value = before;
      report([[box.dataset.name, before]]);
    } else if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      send({ act: "save" });
    } else if (event.key === "Enter" && box.tagName !== "TEXTAREA" && box.tagName !== "SUMMARY") {
      const every = boxes();
      const next = every[every.indexOf(box) + (event.shiftKey ? -1 : 1)];
      if (next) next.focus();
      else if (!event.shiftKey) send({ act: "save" });
    } else return;
    event.preventDefault();
    event.stopPropagation();
  });
  model.on("msg:custom", ({ set, at }) => {
    for (const [name, text] of Object.entries(set ?? {})) {
      model.get("typed")[name] = text;
      if (rows[name]) rows[name].box.value = text;
    }
    if (at < sent) return; // a later key stroke is still under way
    clearTimeout(waiting);
    waiting = null;
    alarm.textContent = "";
  });
  model.on("change:edition", build);
  model.on("change:marks", () => tell(model.get("marks")));
  build();
}

export default { render };
