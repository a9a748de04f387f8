"use strict";
(() => {
  const charts = JSON.parse(document.getElementById("charts").textContent);
  for (const live of document.querySelectorAll(".live")) {
    const still = live.previousElementSibling;
    live.hidden = false;
    vegaEmbed(live, charts[live.dataset.chart], {
      mode: "vega", renderer: "svg", ast: true, actions: false, defaultStyle: false,
      tooltip: { disableDefaultStyle: true },
    }).then(() => { still.hidden = true; live.classList.add("alive"); }, () => { live.hidden = true; });
  }
})();
