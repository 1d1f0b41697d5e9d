/* All designs of a study: their columns read back exactly, numbers in words, the chosen design. */
"use strict";

const motorStudy = (() => {
  const data = JSON.parse(document.getElementById("study-data").textContent);
  const count = data.count, base = data.base, noun = data.noun;
  const listeners = [];
  const state = { chosen: null };

  function bytes(text) {
    return Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  }
  const floats = (text) => new Float64Array(bytes(text));
  const shorts = (text) => new Int16Array(bytes(text));

  /* Each column: values by number of the design, the base design's last; NaN or null for none. */
  const columns = new Map();
  for (const column of data.columns) {
    let values;
    if (column.numbers !== undefined) values = floats(column.numbers);
    else if (column.same !== undefined) values = new Float64Array(count + 1).fill(column.same);
    else values = Array.from(shorts(column.index), (k) => (k < 0 ? null : column.words[k]));
    columns.set(column.key, { ...column, values, text: column.words !== undefined });
  }
  const choice = data.changes.choice.map(shorts);

  function digits(value, digitCount = 4) {
    if (value === null || value === undefined || !Number.isFinite(value)) return "none";
    if (value !== 0 && Math.abs(value) < 1e-5) return value.toExponential(1);
    return Math.abs(value) >= 10 ** digitCount ? value.toFixed(0) : value.toPrecision(digitCount);
  }

  const label = (column) => (column.unit ? `${column.what} in ${column.unit}` : column.what);
  const spoken = (text) => String(text).replaceAll("_", " ");
  const row = (number) => (number < 0 ? base : number);
  const name = (number) => (number < 0 ? "base design" : `${noun} ${number}`);

  function worded(column, number) {
    const value = column.values[row(number)];
    if (column.text) return value === null ? "none" : spoken(value);
    const given = column.group === "varied" || (!column.unit && Number.isInteger(value));
    return given && Number.isFinite(value) ? String(Number(value.toPrecision(6))) : digits(value);
  }

  function error(number) {
    const k = number < 0 ? -1 : data.failed.index[number];
    return k < 0 ? "" : data.failed.words[k];
  }

  /* "6.50 ± 0.01 mm" of one design. */
  function full(column, number) {
    const spread = columns.get(column.spread)?.values[row(number)];
    const known = Number.isFinite(spread) && spread > 0 && Number.isFinite(column.values[row(number)]);
    const about = known ? ` ± ${spread.toPrecision(1)}` : "";
    const text = worded(column, number);
    return text === "none" ? text : `${text}${about}${column.unit ? ` ${column.unit}` : ""}`;
  }

  function tip(number) {
    const lines = [name(number)];
    for (const column of columns.values()) {
      if (column.group === "varied") lines.push(`${column.what}: ${full(column, number)}`);
    }
    if (error(number)) return [...lines, `no result: ${error(number).slice(0, 120)}`].join("\n");
    const shown = new Set(data.hover);
    for (const select of document.querySelectorAll("select[id$=result], #pair-x, #pair-y, #pair-colour, #front-x, #front-y")) {
      shown.add(select.value);
    }
    for (const key of shown) {
      const column = columns.get(key);
      if (column && column.group !== "varied") lines.push(`${column.what}: ${full(column, number)}`);
    }
    return lines.join("\n");
  }

  /* ---- the chosen design --------------------------------------------------------------------- */

  const withLines = data.changes.only === null ? null : new Set(data.changes.only);

  function fragment(number) {
    if (withLines && !withLines.has(number)) {
      return "# With so many designs the page holds the lines of the best only;\n" +
        "# the varied values of this one stand in the table above.";
    }
    const blocks = new Map();
    data.changes.keys.forEach(([section], k) => {
      const at = number < 0 ? -1 : choice[k][number];
      if (at < 0) return;
      if (!blocks.has(section)) blocks.set(section, []);
      blocks.get(section).push(data.changes.lines[k][at]);
    });
    const texts = [...blocks].map(([section, lines]) =>
      (section && !section.startsWith("[[") ? [section, ...lines] : lines).join("\n"));
    const notes = data.factors.map(([parameter, key]) =>
      `# ${parameter} = ${worded(columns.get(key), number)}: scatter, no line of a design file`);
    const text = [...texts, ...(notes.length ? [notes.join("\n")] : [])].join("\n\n");
    return text || "# the base design as it is";
  }

  function element(tag, text, options = {}) {
    const made = document.createElement(tag);
    if (text !== "") made.textContent = text;
    for (const [key, value] of Object.entries(options)) made.setAttribute(key, value);
    return made;
  }

  function record(number) {
    const table = element("table", "");
    table.append(element("caption", `All values of ${name(number)}; ± numerical uncertainty.`));
    const head = element("thead", ""), line = element("tr", "");
    line.append(element("th", "quantity", { scope: "col" }));
    line.append(element("th", "value", { scope: "col", class: "number" }));
    line.append(element("th", "unit", { scope: "col" }));
    head.append(line);
    table.append(head);
    const headings = [["varied", "Varied"], ["result", "Results"], ["force", "Forces on parts and joints"], ["other", "More"]];
    for (const [group, heading] of headings) {
      const members = [...columns.values()].filter((c) => c.group === group);
      const body = element("tbody", ""), title = element("tr", "", { class: "group" });
      title.append(element("th", heading, { scope: "rowgroup", colspan: "3" }));
      body.append(title);
      for (const column of members) {
        const tr = element("tr", "");
        const text = full(column, number), bare = text === "none" || !column.unit;
        const value = bare ? text : text.slice(0, -column.unit.length - 1);
        tr.append(element("th", column.what, { scope: "row" }));
        tr.append(element("td", value, { class: "number", "data-key": column.key }));
        tr.append(element("td", bare ? "" : column.unit));
        body.append(tr);
      }
      if (members.length) table.append(body);
    }
    return table;
  }

  function choose(number, { quiet = false } = {}) {
    if (Number(number) < 0) return;
    const whole = Math.min(count - 1, Math.max(0, Math.round(Number(number) || 0)));
    state.chosen = whole;
    document.getElementById("one-number").value = whole;
    const problem = error(whole);
    const varied = [...columns.values()].filter((c) => c.group === "varied");
    const place = varied.map((c) => `${c.what} ${worded(c, whole)} ${c.unit}`.trim()).join(", ");
    const title = name(whole).replace(/^./, (c) => c.toUpperCase());
    document.getElementById("one-words").textContent =
      `${title}: ${place}.${problem ? ` No result: ${problem}` : ""}`;
    const place_ = document.getElementById("one-record");
    place_.replaceChildren(...(problem ? [] : [record(whole)]));
    document.getElementById("one-lines").textContent = fragment(whole);
    if (!quiet) listeners.forEach((tell) => tell(whole));
  }

  /* ---- figures ------------------------------------------------------------------------------- */

  function model(wanted) {
    const found = (window.Bokeh?.documents ?? []).map((d) => d.get_model_by_name(wanted));
    return found.find((m) => m !== null && m !== undefined) ?? null;
  }

  function fill(source, values) {
    const found = model(source);
    if (found) found.data = values;
  }

  function axis(figure, side, text) {
    const found = model(figure);
    if (found) found[side][0].axis_label = text;
  }

  /* A ring around the chosen design, if it has a place in that figure. */
  function ring(source, x, y, number) {
    const known = number !== null && Number.isFinite(x.values[number]) && Number.isFinite(y.values[number]);
    fill(source, { x: known ? [x.values[number]] : [], y: known ? [y.values[number]] : [] });
    if (base === null) return;
    const there = Number.isFinite(x.values[base]) && Number.isFinite(y.values[base]);
    const home = { x: there ? [x.values[base]] : [], y: there ? [y.values[base]] : [], number: there ? [-1] : [] };
    fill(source.replace("chosen", "base"), home);
  }

  /* Ends of a colour scale; a constant gets a little room. */
  function ends(values) {
    let low = Infinity, high = -Infinity;
    for (const value of values) {
      if (!Number.isFinite(value)) continue;
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
    if (low > high) return [0, 1];
    return low === high ? [low - 0.5, high + 0.5] : [low, high];
  }

  function button(number) {
    const made = element("button", String(number), {
      type: "button", class: "number-button", "aria-label": `Show ${name(number)}`,
    });
    made.addEventListener("click", () => choose(number));
    return made;
  }

  return {
    data, count, columns, state, digits, label, name, worded, full, tip, error, fragment, element,
    choose, model, fill, axis, ring, ends, button, row, floats, bytes,
    onChoose: (tell) => listeners.push(tell),
  };
})();
