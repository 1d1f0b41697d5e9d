/* Buttons above each figure: an area enlarged, the view moved, all shown again, the picture saved. */
"use strict";

(() => {
  function connect(bar) {
    const place = bar.parentElement.querySelector(".plot [data-root-id]");
    const view = place && window.Bokeh?.index?.get_by_id(place.dataset.rootId);
    if (!view) return false;
    const tools = Object.fromEntries(view.model.toolbar.tools.map((tool) => [tool.type, tool]));
    const buttons = [...bar.querySelectorAll("button")];
    const drags = { enlarge: tools.BoxZoomTool, move: tools.PanTool };

    function pressed(name) {
      for (const [key, tool] of Object.entries(drags)) {
        tool.active = key === name && !tool.active;
        bar.querySelector(`[data-do="${key}"]`).setAttribute("aria-pressed", tool.active);
      }
    }

    async function save() {
      const picture = await view.export("auto").to_blob();
      const link = document.createElement("a");
      link.href = URL.createObjectURL(picture);
      link.download = bar.getAttribute("aria-label").replace(/[^a-z0-9]+/gi, "_");
      link.click();
      URL.revokeObjectURL(link.href);
    }

    const doing = {
      enlarge: () => pressed("enlarge"),
      move: () => pressed("move"),
      all: () => view.reset(),
      save: () => void save(),
    };
    buttons.forEach((button, k) => {
      button.tabIndex = k ? -1 : 0; /* one stop for the tab key; arrows go on from there */
      button.addEventListener("click", doing[button.dataset.do]);
      button.addEventListener("keydown", (event) => {
        const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
        if (!step) return;
        buttons[(k + step + buttons.length) % buttons.length].focus();
        event.preventDefault();
      });
    });
    bar.hidden = false;
    return true;
  }

  function begin(waiting) {
    const left = waiting.filter((bar) => !connect(bar));
    if (left.length) setTimeout(() => begin(left), 60);
  }
  begin([...document.querySelectorAll(".tools")]);
})();
