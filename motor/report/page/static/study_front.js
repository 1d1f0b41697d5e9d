/* The Pareto front of two selected results (as motor/study/pareto.py), and its table. */
"use strict";

const motorFront = (() => {
  const study = motorStudy, { columns } = study;
  const MOST = 60;
  const control = (name) => document.getElementById(`front-${name}`);
  const result = { members: [] };

  function front(first, second) {
    const valid = [];
    for (let n = 0; n < study.count; n++) {
      if (!Number.isNaN(first[n]) && !Number.isNaN(second[n])) valid.push(n);
    }
    const beaten = (i) => valid.some((j) =>
      first[j] >= first[i] && second[j] >= second[i] && (first[j] > first[i] || second[j] > second[i]));
    return valid.filter((i) => !beaten(i))
      .sort((a, b) => first[a] - first[b] || second[a] - second[b] || a - b);
  }

  function goods(column, way) {
    const sign = way === "less" ? -1 : 1;
    return column.values.subarray(0, study.count).map((value) => sign * value);
  }

  function draw() {
    const x = columns.get(control("x").value), y = columns.get(control("y").value);
    const members = front(goods(x, control("x-way").value), goods(y, control("y-way").value));
    result.members = members;
    const inside = new Set(members), rest = { x: [], y: [], number: [] };
    for (let n = 0; n < study.count; n++) {
      if (inside.has(n) || !Number.isFinite(x.values[n]) || !Number.isFinite(y.values[n])) continue;
      rest.x.push(x.values[n]);
      rest.y.push(y.values[n]);
      rest.number.push(n);
    }
    study.fill("front-rest", rest);
    study.fill("front-best", {
      x: members.map((n) => x.values[n]), y: members.map((n) => y.values[n]), number: members,
    });
    study.axis("front-figure", "below", `${study.label(x)} (${control("x-way").value} is better)`);
    study.axis("front-figure", "left", `${study.label(y)} (${control("y-way").value} is better)`);
    const plural = members.length === 1 ? `${study.data.noun} is` : `${study.data.noun}s are`;
    control("words").textContent =
      `${members.length} ${plural} on the front, ${rest.number.length} beaten.` +
      (members.length > MOST ? ` The table holds the first ${MOST}.` : "");
    table(x, y, members.slice(0, MOST));
    mark(study.state.chosen);
  }

  function table(x, y, members) {
    const shown = [...new Set([x, y, ...[...columns.values()].filter((c) => c.group === "varied")])];
    const head = study.element("tr", "");
    head.append(study.element("th", "number", { scope: "col" }));
    for (const column of shown) {
      head.append(study.element("th", study.label(column), { scope: "col", class: "number" }));
    }
    control("head").replaceChildren(head);
    control("rows").replaceChildren(...members.map((n) => {
      const row = study.element("tr", "", { "data-number": String(n) });
      const first = study.element("th", "", { scope: "row" });
      first.append(study.button(n));
      row.append(first);
      for (const column of shown) {
        row.append(study.element("td", study.worded(column, n), { class: "number" }));
      }
      return row;
    }));
  }

  function mark(number) {
    const x = columns.get(control("x").value), y = columns.get(control("y").value);
    study.ring("front-chosen", x, y, number);
    for (const row of control("rows").children) {
      row.classList.toggle("chosen", row.dataset.number === String(number));
    }
  }

  function usual(which) {
    control(`${which}-way`).value = columns.get(control(which).value).less ? "less" : "more";
  }

  function start() {
    if (!control("x")) return;
    for (const which of ["x", "y"]) {
      usual(which);
      control(which).addEventListener("change", () => {
        usual(which);
        draw();
      });
      control(`${which}-way`).addEventListener("change", draw);
    }
    study.onChoose(mark);
    draw();
  }

  return { start, result, front };
})();
