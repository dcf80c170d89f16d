// A count sheet: one line a unit, one text box a count. Python owns what is typed and what is wrong with it; this file
// shows both and reports every key stroke at once, so that nothing typed lives in the browser alone.

const PATIENCE_MS = 4000; // a kernel that has not answered by then is busy or gone, and the typist must know

const BOXES = ["count", "entry", "choice"];

const make = (name, className = "", text = "") => Object.assign(document.createElement(name), { className, textContent: text });

function headOf(table, columns) {
  const [groups, names] = [table.createTHead().insertRow(), table.tHead.insertRow()];
  columns.filter((column) => !column.below).forEach((column, k) => {
    const head = make("th", `palea-${column.kind}`, column.title);
    head.scope = "col";
    if (column.group) {
      if (columns[k - 1]?.group !== column.group) {
        const group = make("th", "palea-group", column.group);
        Object.assign(group, { scope: "colgroup", colSpan: columns.filter((c) => c.group === column.group).length });
        groups.append(group);
      }
      names.append(head);
    } else {
      head.rowSpan = 2;
      groups.append(head);
    }
  });
}

function boxFor(line, column, text, label) {
  const box = make(column.kind === "choice" ? "select" : "input");
  if (column.kind === "choice") {
    for (const [value, title] of column.options) box.append(Object.assign(make("option", "", title), { value }));
    box.value = text;
  } else Object.assign(box, { type: "text", value: text, autocomplete: "off", spellcheck: false });
  Object.assign(box.dataset, { line, column: column.name, lmSuppressShortcuts: "true" }); // Shift+Enter must not run the cell
  box.setAttribute("aria-label", `${label}, ${column.label || column.title}`);
  return box;
}

// Where many boxes leave no room beside the line, what is to be said stands in a row of its own below it.
function rowBelow(parts, width) {
  parts.below = make("tr", "palea-below");
  parts.cells.note.colSpan = width;
  parts.below.append(parts.cells.note);
  parts.below.hidden = true;
  return parts.below;
}

function bodyOf(table, model, id) {
  const [columns, typed, names] = [model.get("columns"), model.get("typed"), model.get("names")];
  const body = make("tbody");
  const sheet = model.get("lines").map((cells, line) => {
    const row = make("tr");
    const parts = { row, boxes: [], cells: {} };
    columns.forEach((column, k) => {
      const cell = make(k === 0 ? "th" : "td", `palea-${column.kind}`);
      if (k === 0) cell.scope = "row";
      if (BOXES.includes(column.kind)) {
        const box = boxFor(line, column, typed[`${line}/${column.name}`] ?? "", names[line]);
        parts.boxes.push(box);
        cell.append(box);
      } else {
        cell.textContent = cells[k];
        parts.cells[column.name] = cell;
      }
      if (column.kind === "note") cell.id = `${id}-${line}`;
      if (column.below) return;
      row.append(cell);
    });
    body.append(row);
    if (columns.at(-1).below) body.append(rowBelow(parts, columns.length - 1));
    return parts;
  });
  table.append(body);
  return sheet;
}

function show(parts, mark, id, line) {
  for (const [name, text] of Object.entries(mark.sums ?? {})) parts.cells[name].textContent = text;
  const bad = mark.bad ?? {};
  for (const box of parts.boxes) {
    const wrong = box.dataset.column in bad;
    box.setAttribute("aria-invalid", wrong);
    wrong ? box.setAttribute("aria-describedby", `${id}-${line}`) : box.removeAttribute("aria-describedby");
    box.title = bad[box.dataset.column] ?? "";
  }
  const sentences = [...new Set(Object.values(bad))];
  const note = parts.cells.note;
  note.replaceChildren(...sentences.map((s) => make("span", "palea-error", `■ Error. ${s}`)));
  if (mark.said) note.append(make("span", "palea-quiet", mark.said));
  if (parts.below) parts.below.hidden = parts.row.hidden || !note.firstChild;
}

// A block copied from a spreadsheet: lines by newline, cells by tab. Where its first column names our lines, it finds
// its own place whatever the order; else it runs down and right from the box in which it was pasted.
function blockOf(text) {
  return text.replace(/\r/g, "").replace(/\n+$/, "").split("\n").map((row) => row.split("\t").map((cell) => cell.trim()));
}

function placed(block, { names, shown, at, column }) {
  const named = block.every((row) => row.length > 1 && names.includes(row[0]));
  const from = shown.indexOf(at);
  return block.flatMap((row, i) => {
    const line = named ? names.indexOf(row[0]) : shown[from + i];
    return row.slice(named ? 1 : 0).map((text, j) => ({ line, column: (named ? 0 : column) + j, text }));
  });
}

function render({ model, el }) {
  const id = `palea-${Math.random().toString(36).slice(2)}`;
  const frame = make("div", "palea-sheet-frame");
  const progress = make("p", "palea-progress");
  const alarm = make("p", "palea-alarm");
  progress.setAttribute("role", "status");
  alarm.setAttribute("role", "alert");
  el.append(frame, progress, alarm);
  let sheet = [];
  let sent = 0;
  let waiting = null;
  let before = "";

  const build = () => {
    const focused = document.activeElement?.closest(".palea-sheet") && document.activeElement.dataset;
    const table = make("table", "palea-sheet");
    table.createCaption().textContent = model.get("caption");
    headOf(table, model.get("columns"));
    sheet = bodyOf(table, model, id);
    for (const [line, mark] of Object.entries(model.get("marks"))) show(sheet[line], mark, id, line);
    frame.replaceChildren(table);
    choose();
    if (focused && sheet[focused.line]) sheet[focused.line].boxes.find((b) => b.dataset.column === focused.column)?.focus();
  };
  const choose = () => {
    const shown = new Set(model.get("shown"));
    sheet.forEach((parts, line) => {
      parts.row.hidden = !shown.has(line);
      if (parts.below) parts.below.hidden = parts.row.hidden || !parts.cells.note.firstChild;
    });
  };
  const tell = () => { progress.textContent = model.get("progress"); };
  const report = (edits) => {
    for (const [line, column, text] of edits) model.get("typed")[`${line}/${column}`] = text;
    waiting ??= setTimeout(unheard, PATIENCE_MS);
    try {
      model.send({ edits, at: ++sent });
    } catch { // a kernel that is gone closes its line at once
      unheard();
    }
  };
  const unheard = () => {
    alarm.textContent = "■ Not kept yet: the kernel does not answer. What you type now is only on this page.";
  };
  const go = (line, k) => sheet[line]?.boxes[k]?.focus();
  const move = (box, down, across) => {
    const [line, shown] = [Number(box.dataset.line), model.get("shown")];
    go(shown[shown.indexOf(line) + down], sheet[line].boxes.indexOf(box) + across);
  };
  const atEdge = (box, across) => {
    if (box.tagName === "SELECT") return true;
    const all = box.selectionStart === 0 && box.selectionEnd === box.value.length;
    return all || (across < 0 ? box.selectionEnd === 0 : box.selectionStart === box.value.length);
  };

  frame.addEventListener("input", ({ target }) => report([[Number(target.dataset.line), target.dataset.column, target.value]]));
  frame.addEventListener("focus", ({ target }) => {
    before = target.value;
    if (target.tagName !== "INPUT") return;
    target.select();
    // A click sets the caret after the focus; a number typed then would land inside the one that stood there.
    setTimeout(() => { if (document.activeElement === target && target.value === before) target.select(); });
  }, true);
  frame.addEventListener("keydown", (event) => {
    const box = event.target;
    const step = { ArrowUp: [-1, 0], ArrowDown: [1, 0], Enter: [event.shiftKey ? -1 : 1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key];
    const choosing = box.tagName === "SELECT" && event.key.startsWith("Arrow") && !event.key.match(/Left|Right/);
    if (choosing) return; // up and down choose within a list
    if (event.key === "Escape" && box.value !== before) {
      box.value = before;
      report([[Number(box.dataset.line), box.dataset.column, before]]);
    } else if (!step || event.ctrlKey || event.metaKey || event.altKey || (step[1] && !atEdge(box, step[1]))) return;
    else move(box, ...step);
    event.preventDefault();
    event.stopPropagation();
  });
  frame.addEventListener("paste", (event) => {
    const block = blockOf(event.clipboardData.getData("text/plain"));
    if (block.length === 1 && block[0].length === 1) return; // one cell: the browser's own paste does it
    event.preventDefault();
    const [box, line] = [event.target, Number(event.target.dataset.line)];
    const where = { names: model.get("names"), shown: model.get("shown"), at: line, column: sheet[line].boxes.indexOf(box) };
    const cells = placed(block, where);
    const fitting = cells.filter((c) => sheet[c.line]?.boxes[c.column]);
    for (const c of fitting) sheet[c.line].boxes[c.column].value = c.text;
    report(fitting.map((c) => [c.line, sheet[c.line].boxes[c.column].dataset.column, c.text]));
    const over = cells.length - fitting.length;
    alarm.textContent = over ? `▲ ${over} of ${cells.length} pasted cells lie outside the sheet and were left out.` : "";
  });
  model.on("msg:custom", ({ marks, at }) => {
    for (const [line, mark] of Object.entries(marks)) {
      model.get("marks")[line] = mark;
      show(sheet[line], mark, id, line);
    }
    if (at < sent) return; // a later key stroke is still under way
    clearTimeout(waiting);
    waiting = null;
    if (alarm.textContent.startsWith("■")) alarm.textContent = "";
  });
  model.on("change:edition", build);
  model.on("change:shown", choose);
  model.on("change:progress", tell);
  build();
  tell();
}

export default { render };
