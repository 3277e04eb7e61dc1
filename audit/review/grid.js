// A table of many lines, drawn only where it is seen. Texts are set as text, never as markup.

const SPARE = 6; // lines drawn beyond each edge
const WIDEST = 30; // digits that a column may be wide when nothing else is said
const STATES = ["conflict", "decided"]; // the widest of the usual words
const NOTHING = { labels: [], places: [], columns: [], at: new Map() };
const unpacked = new WeakMap(); // each delivery is unpacked once for all views
let views = 0;

function linesOf(model) {
  const packed = model.get("_packed");
  if (!packed || !packed.byteLength) return NOTHING;
  if (!unpacked.has(packed)) {
    const lines = JSON.parse(new TextDecoder().decode(packed));
    lines.at = new Map(lines.labels.map((label, index) => [label, index]).filter(([label]) => label));
    unpacked.set(packed, lines);
  }
  return unpacked.get(packed);
}

// Signs that cannot be seen, or that turn the direction of writing, become a replacement sign.
function shown(text) {
  return text.replace(/\r\n|\n/g, "↵").replace(/[^\P{C}]|[^\P{Z} ]/gu, "\ufffd");
}

function make(kind, role, parent) {
  const node = document.createElement("div");
  node.className = kind;
  if (role) node.setAttribute("role", role);
  if (parent) parent.append(node);
  return node;
}

// A node that can have the keyboard. The notebook's own shortcuts (insert, delete, move cells) stay out of it: one
// kind of notebook hears keys before the node does, and asks for this word on the very node; the other kind hears
// them after it, and is kept out where keys are stopped.
function reached(node) {
  node.tabIndex = -1;
  node.setAttribute("data-lm-suppress-shortcuts", "true");
}

// What stands around the grid on one desk, its buttons and lists, is kept from the same shortcuts: a slip of the
// hand on a button must not delete a cell of the notebook.
function shelter(desk) {
  if (!desk || desk.dataset.sheltered) return;
  desk.dataset.sheltered = "true";
  const word = () => {
    for (const node of desk.querySelectorAll("button, input, select, textarea, summary, a")) {
      if (!node.hasAttribute("data-lm-suppress-shortcuts")) node.setAttribute("data-lm-suppress-shortcuts", "true");
    }
  };
  word();
  new MutationObserver(word).observe(desk, { childList: true, subtree: true });
  desk.addEventListener("keydown", (event) => {
    if (!event.ctrlKey && !event.metaKey && !event.altKey) event.stopPropagation();
  });
}

function attribute(node, name, value) {
  if (value === null || value === "") node.removeAttribute(name);
  else if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

function nameOf(event) {
  const typed = event.getModifierState("AltGraph");
  const letter = event.key.length === 1 && event.key.toLowerCase() !== event.key.toUpperCase();
  const key = letter ? event.key.toLowerCase() : event.key;
  const shift = event.shiftKey && (letter || event.key.length > 1);
  const held = typed ? "" : (event.ctrlKey || event.metaKey ? "Ctrl+" : "") + (event.altKey ? "Alt+" : "");
  return held + (shift ? "Shift+" : "") + key;
}

class View {
  constructor(model, el) {
    this.model = model;
    this.active = { index: 0, column: 0 };
    this.drawn = new Map(); // index -> { node, cells }
    this.free = [];
    this.stale = new Set();
    this.row = 0;
    this.since = performance.now();

    this.root = make("nestproof-grid");
    this.title = make("caption", "", this.root);
    this.title.id = `nestproof-grid-${Date.now().toString(36)}-${(views += 1)}`;
    this.scroll = make("scroll", "grid", this.root);
    reached(this.scroll);
    this.scroll.setAttribute("aria-labelledby", this.title.id);
    this.head = make("head", "row", make("", "rowgroup", this.scroll));
    this.head.parentNode.style.display = "contents";
    this.head.setAttribute("aria-rowindex", "1");
    this.body = make("body", "rowgroup", this.scroll);
    this.none = make("otherwise", "", this.root);
    el.append(this.root);
    this.stills = [];

    this.hear = {
      "change:chosen": () => this.later("chosen"),
      "change:chosen_key": () => this.later("chosen"),
      "change:_changed": () => this.later("texts"),
      "change:_marks": () => this.later("texts"),
      "change:_row_marks": () => this.later("texts"),
      "change:caption": () => this.later("texts"),
      "change:otherwise": () => this.later("texts"),
      "msg:custom": (told) => told.kind === "focus" && this.root.offsetParent && this.focus(),
    };
    for (const name of ["_packed", "_heads", "place_head", "state_head", "height", "whole_lines"]) {
      this.hear[`change:${name}`] = () => this.later("all");
    }
    for (const [name, act] of Object.entries(this.hear)) model.on(name, act);

    this.scroll.addEventListener("scroll", () => this.paint(), { passive: true });
    this.scroll.addEventListener("mousedown", (event) => this.click(event));
    this.scroll.addEventListener("focusin", (event) => this.enter(event));
    this.scroll.addEventListener("pointerover", (event) => this.explain(event));
    this.root.addEventListener("keydown", (event) => this.press(event));
    this.root.addEventListener("copy", (event) => this.copy(event));
    // fires when the view comes to stand in the page, and when the room that it has changes
    this.watch = new ResizeObserver(() => this.resize());
    this.watch.observe(this.scroll);
    this.later("all");
  }

  close() {
    for (const [name, act] of Object.entries(this.hear)) this.model.off(name, act);
    this.watch.disconnect();
    this.closed = true;
    for (const still of this.stills) still.hidden = false;
    this.root.remove();
  }

  // What one message brings is drawn once.
  later(what) {
    if (!this.stale.size) queueMicrotask(() => this.flush());
    this.stale.add(what);
  }

  flush() {
    if (this.closed) return;
    const stale = this.stale;
    this.stale = new Set();
    const focused = this.focused();
    const before = this.labelAt(this.active.index);
    if (stale.has("all")) this.build(before);
    if (stale.has("all") || stale.has("texts")) this.name();
    this.follow();
    const moved = before !== this.labelAt(this.active.index);
    if (moved) this.since = performance.now();
    this.paint(stale.has("all") || stale.has("texts"));
    if (moved || stale.has("chosen")) this.reveal(focused);
    if (focused) this.focus();
  }

  focused() {
    return this.root.contains(this.root.getRootNode().activeElement);
  }

  labelAt(index) {
    return this.lines ? (this.lines.labels[index] ?? "") : "";
  }

  // Columns, heads and room, from the beginning.
  build(before) {
    const model = this.model;
    this.lines = linesOf(model);
    this.whole = model.get("whole_lines");
    const states = model.get("state_head");
    const texts = model.get("_heads").map((head, number) => ({ ...head, number }));
    this.columns = [
      { key: "", text: model.get("place_head"), kind: "place" },
      ...(states ? [{ key: "", text: states, kind: "state" }] : []),
      ...texts.filter((head) => head.number < this.lines.columns.length),
    ];
    for (const { node } of this.drawn.values()) node.remove();
    this.drawn.clear();
    this.free = [];
    this.head.replaceChildren();
    this.columns.forEach((column) => {
      const cell = make(`cell ${column.kind ?? column.align}`, "columnheader", this.head);
      cell.textContent = shown(column.text);
      cell.title = shown(column.text);
    });
    const count = this.lines.labels.length;
    this.scroll.setAttribute("aria-rowcount", String(count + 1));
    this.scroll.setAttribute("aria-colcount", String(this.columns.length));
    this.scroll.hidden = !count;
    // among other lines the keyboard stands where it stood, if that is still there, else at the top
    this.active.index = this.lines.at.get(before) ?? 0;
    this.active.column = Math.max(0, Math.min(this.active.column, this.columns.length - 1));
    this.row = 0;
    this.resize();
  }

  name() {
    this.title.textContent = shown(this.model.get("caption"));
    this.none.textContent = this.lines.labels.length ? "" : this.model.get("otherwise");
    this.none.hidden = Boolean(this.lines.labels.length);
  }

  // Widths and heights, as soon as the view stands in a page and the font is known.
  resize() {
    if (this.closed || !this.lines || !this.scroll.clientWidth) return;
    this.replace();
    shelter(this.root.closest(".nestproof-desk"));
    const probe = make("line", "", this.body);
    const row = probe.getBoundingClientRect().height;
    probe.remove();
    const first = !this.row;
    if (first || row !== this.row) {
      this.row = row;
      this.scroll.style.setProperty("--columns", this.widths());
      const count = this.lines.labels.length;
      this.body.style.height = `${count * row}px`;
      const room = Math.min(count, this.model.get("height")) * row + this.head.offsetHeight;
      // room for the bar below, where the columns are wider than the view
      const bar = this.scroll.scrollWidth > this.scroll.clientWidth ? 16 : 1;
      this.scroll.style.height = `${Math.ceil(room) + bar}px`;
      this.scroll.style.setProperty("--first", `${this.head.firstChild.offsetWidth}px`);
      this.drawn.forEach(({ node }, index) => { node.style.top = `${index * row}px`; });
    }
    // the lines are as wide as their heads
    this.body.style.width = `${this.head.offsetWidth}px`;
    this.paint();
    if (first) this.reveal(false);
  }

  // What the same output holds for readers without a program gives way while the grid lives.
  replace() {
    if (this.stills.length) return;
    this.stills = [...(this.root.closest(".jp-OutputArea")?.querySelectorAll(".nestproof-still") ?? [])];
    for (const still of this.stills) still.hidden = true;
  }

  widths() {
    const pen = document.createElement("canvas").getContext("2d");
    const { fontSize, fontFamily } = getComputedStyle(this.root);
    pen.font = `${fontSize} ${fontFamily}`;
    const digit = pen.measureText("0").width;
    const edge = digit * 3;
    const { model, lines } = this;
    const marks = Object.entries(model.get("_marks"));
    return this.columns.map((column) => {
      if (column.width) return `${column.width * digit + edge}px`;
      const texts = column.kind === "place" ? lines.places
        : column.kind === "state" ? STATES : lines.columns[column.number];
      let longest = "";
      for (const text of texts) if (text.length > longest.length) longest = text;
      const empty = marks.some(([label, cells]) => cells[column.key] && !texts[lines.at.get(label)]);
      const wanted = Math.max(
        // some room for what is bold or slanted, and for texts that are wider than the longest
        pen.measureText(shown(longest.slice(0, 80))).width * 1.1, pen.measureText(column.text).width,
        digit * 3, empty ? pen.measureText("(empty)").width : 0,
      );
      const width = Math.ceil(Math.min(wanted, WIDEST * digit) + edge);
      return column.grow ? `minmax(${width}px, 1fr)` : `${width}px`;
    }).join(" ");
  }

  // The cell that the keyboard stands on goes where the chosen line is.
  follow() {
    const index = this.lines.at.get(this.model.get("chosen"));
    if (index === undefined) return;
    this.active.index = index;
    const key = this.model.get("chosen_key");
    if (this.whole || key === this.columns[this.active.column]?.key) return;
    this.active.column = Math.max(0, this.columns.findIndex((column) => column.key === key));
  }

  // Draws the lines that are seen, and the one that has the keyboard, which must stay in the page.
  paint(again = false) {
    if (!this.row || this.closed) return;
    const count = this.lines.labels.length;
    const top = this.scroll.scrollTop;
    const from = Math.max(0, Math.floor(top / this.row) - SPARE);
    const to = Math.min(count, Math.ceil((top + this.scroll.clientHeight) / this.row) + SPARE);
    const wanted = new Set();
    const { index } = this.active;
    if (index < from && index < count) wanted.add(index);
    for (let at = from; at < to; at += 1) wanted.add(at);
    if (index >= to && index < count) wanted.add(index);
    const before = [...this.drawn].sort(([one], [other]) => one - other);
    const fresh = [...wanted].filter((at) => !this.drawn.has(at));
    let number = 0;
    const after = before.map(([at, line]) => [wanted.has(at) ? at : fresh[number++], line]);
    if (number === fresh.length && after.every(([at], place) => !place || at > after[place - 1][0])) {
      // a jump: the same lines in the same order, with other texts
      this.drawn = new Map(after);
      for (const at of fresh) this.fill(this.drawn.get(at), at);
    }
    for (const [at, line] of this.drawn) {
      if (wanted.has(at)) continue;
      line.node.remove();
      this.drawn.delete(at);
      this.free.push(line);
    }
    // what stays is in order already; what is new is put between, for those who read in the order of the page
    let next = this.body.firstChild;
    for (const at of wanted) {
      let line = this.drawn.get(at);
      if (line) {
        next = line.node.nextSibling;
        if (again) this.fill(line, at);
      } else {
        line = this.free.pop() ?? this.line();
        this.drawn.set(at, line);
        this.fill(line, at);
        this.body.insertBefore(line.node, next);
      }
    }
    this.choose();
  }

  line() {
    const node = make("line", "row");
    const cells = this.columns.map((column) => {
      const role = column.kind === "place" ? "rowheader" : "gridcell";
      const cell = make(`cell ${column.kind ?? column.align}`, role, node);
      cell.append(document.createElement("span"));
      cell.firstChild.append("");
      reached(cell);
      return cell;
    });
    return { node, cells };
  }

  fill({ node, cells }, index) {
    const { lines, model } = this;
    const label = lines.labels[index];
    const changed = (label && model.get("_changed")[label]) || {};
    const marks = changed.marks ?? ((label && model.get("_marks")[label]) || {});
    const state = changed.row_mark ?? ((label && model.get("_row_marks")[label]) || "");
    const hasStates = this.columns[1]?.kind === "state";
    node.style.top = `${index * this.row}px`;
    node.setAttribute("aria-rowindex", String(index + 2));
    node.dataset.index = index;
    attribute(node, "data-label", label);
    attribute(node, "data-state", state);
    this.columns.forEach((column, number) => {
      const cell = cells[number];
      const place = column.kind === "place";
      let text = place ? lines.places[index] : state;
      let words = "";
      if (!column.kind) {
        text = changed.texts ? changed.texts[column.number] : lines.columns[column.number][index];
        words = marks[column.key] ?? "";
      }
      const seen = shown(text) || (words ? "(empty)" : "");
      const told = words.trim().split(/\s+/).join(", ");
      const written = cell.firstChild.firstChild;
      if (written.data !== seen) written.data = seen;
      attribute(cell, "data-mark", words);
      attribute(cell, "aria-label",
        words ? `${told}: ${seen}` : place && state && !hasStates ? `${seen}, ${state}` : "");
      attribute(cell, "title", "");
    });
  }

  // Which line is chosen, and which cell the keyboard reaches: one in all.
  choose() {
    const chosen = this.model.get("chosen");
    const key = this.whole ? "" : this.model.get("chosen_key");
    for (const [index, { node, cells }] of this.drawn) {
      const label = this.lines.labels[index];
      const here = Boolean(label) && label === chosen;
      attribute(node, "data-chosen", here ? "true" : "");
      attribute(node, "aria-selected", label ? String(here && !key) : "");
      cells.forEach((cell, number) => {
        const own = this.columns[number].key;
        attribute(cell, "aria-selected", here && key && own === key ? "true" : "");
        const stop = index === this.active.index && number === this.active.column ? 0 : -1;
        if (cell.tabIndex !== stop) cell.tabIndex = stop;
      });
    }
  }

  cell() {
    return this.drawn.get(this.active.index)?.cells[this.active.column];
  }

  focus() {
    const cell = this.cell();
    if (!cell) this.scroll.hidden || this.scroll.focus({ preventScroll: true });
    else if (this.root.getRootNode().activeElement !== cell) {
      this.led = true;
      cell.focus({ preventScroll: true });
      this.led = false;
    }
  }

  // Brings the active cell into sight: always within the grid, and within the page where the keyboard is here.
  reveal(everywhere) {
    if (!this.row) return;
    const top = this.active.index * this.row;
    const room = this.scroll.clientHeight - this.head.offsetHeight;
    if (top < this.scroll.scrollTop) this.scroll.scrollTop = top;
    else if (top + this.row > this.scroll.scrollTop + room) this.scroll.scrollTop = top + this.row - room;
    this.paint();
    const cell = this.cell();
    if (!cell) return;
    if (this.active.column > 0) {
      const first = this.head.firstChild.offsetWidth;
      const end = cell.offsetLeft + cell.offsetWidth - this.scroll.clientWidth;
      if (end > this.scroll.scrollLeft) this.scroll.scrollLeft = end;
      if (cell.offsetLeft - first < this.scroll.scrollLeft) this.scroll.scrollLeft = cell.offsetLeft - first;
    }
    if (everywhere) cell.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  go(index, column) {
    const count = this.lines.labels.length;
    if (!count) return;
    this.active.index = Math.max(0, Math.min(index, count - 1));
    // back at the first column, which is always in sight, the next ones are, too
    if (column <= 0 && this.active.column > 0) this.scroll.scrollLeft = 0;
    this.active.column = Math.max(0, Math.min(column, this.columns.length - 1));
    const label = this.lines.labels[this.active.index];
    const key = label && !this.whole ? this.columns[this.active.column].key : "";
    const { model } = this;
    if (label && (model.get("chosen") !== label || model.get("chosen_key") !== key)) {
      if (model.get("chosen") !== label) this.since = performance.now();
      model.set("chosen", label);
      model.set("chosen_key", key);
      model.save_changes();
    }
    this.paint();
    this.reveal(true);
    this.focus();
  }

  at(event) {
    const cell = event.target.closest?.(".cell");
    const line = cell?.closest(".line");
    return line && [Number(line.dataset.index), [...line.children].indexOf(cell), cell];
  }

  click(event) {
    const hit = this.at(event);
    if (hit && event.button === 0) this.go(hit[0], hit[1]);
  }

  // Coming in by Tab, the cell that is reached is the one chosen; led here by the program, nothing is.
  enter(event) {
    const hit = this.at(event);
    if (hit && !this.led && !this.lines.at.has(this.model.get("chosen"))) this.go(hit[0], hit[1]);
  }

  // The full text of a cell that is cut, and what its mark says.
  explain(event) {
    const hit = event.target.closest?.(".line .cell");
    if (!hit) return;
    const cut = hit.scrollWidth > hit.clientWidth;
    attribute(hit, "title", hit.getAttribute("aria-label") ?? (cut ? hit.textContent : ""));
  }

  copy(event) {
    const cell = this.cell();
    if (!cell || String(getSelection())) return;
    event.clipboardData.setData("text/plain", cell.textContent);
    event.preventDefault();
  }

  press(event) {
    if (event.isComposing) return;
    const name = nameOf(event);
    const { index, column } = this.active;
    const page = Math.max(1, Math.floor(this.scroll.clientHeight / this.row) - 2);
    const moves = {
      ArrowDown: [index + 1, column],
      ArrowUp: [index - 1, column],
      ArrowRight: [index, column + 1],
      ArrowLeft: [index, column - 1],
      PageDown: [index + page, column],
      PageUp: [index - page, column],
      Home: [index, 0],
      End: [index, Infinity],
      "Ctrl+Home": [0, 0],
      "Ctrl+End": [Infinity, Infinity],
    };
    if (this.model.get("bound_keys").includes(name)) {
      event.preventDefault();
      event.stopPropagation();
      // a key held down is pressed once
      if (!event.repeat) this.hand(name);
    } else if (moves[name]) {
      event.preventDefault();
      event.stopPropagation();
      const step = name === "ArrowDown" || name === "ArrowUp";
      if (step && !this.lines.at.has(this.model.get("chosen"))) this.go(index, column);
      else this.go(...moves[name]);
    } else if (/^Ctrl\+/.test(name) && !/^Ctrl\+[acvxzy]$/.test(name)) {
      // such as saving: this one is the notebook's
      const same = new KeyboardEvent("keydown", {
        key: event.key, code: event.code, keyCode: event.keyCode, bubbles: true, cancelable: true,
        ctrlKey: event.ctrlKey, metaKey: event.metaKey, shiftKey: event.shiftKey, altKey: event.altKey,
      });
      event.stopPropagation();
      if (!this.root.parentNode.dispatchEvent(same)) event.preventDefault();
    } else {
      event.stopPropagation();
      if (name === " ") event.preventDefault();
    }
  }

  hand(name) {
    const label = this.labelAt(this.active.index);
    this.model.send({
      kind: "pressed",
      key: name,
      line: label,
      column: this.whole ? "" : (this.columns[this.active.column]?.key ?? ""),
      rested: (performance.now() - this.since) / 1000,
    });
  }
}

export default {
  render({ model, el }) {
    const view = new View(model, el);
    return () => view.close();
  },
};
