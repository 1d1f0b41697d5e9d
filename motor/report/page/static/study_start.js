/* Everything is drawn once the figures are there. */
"use strict";

(() => {
  const there = () => {
    const wanted = document.querySelectorAll(".plot > *").length;
    const drawn = (window.Bokeh?.documents ?? []).flatMap((d) => d.roots());
    return drawn.length >= wanted;
  };
  const begin = () => {
    if (!there()) {
      setTimeout(begin, 30);
      return;
    }
    const first = document.getElementById("one-number");
    motorStudy.choose(first.value, { quiet: true });
    first.addEventListener("change", () => motorStudy.choose(first.value));
    for (const part of [motorMap, motorFront, motorSpread, motorCompare]) part.start();
    document.body.dataset.ready = "yes";
  };
  begin();
})();
