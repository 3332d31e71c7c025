// Makes the still charts live: read values by pointer, touch or arrow keys, zoom by dragging, by
// two fingers, by the wheel with Ctrl, by keys or buttons. Without this script the still pictures
// stay.
"use strict";

(() => {
  const figures = [...document.querySelectorAll("figure.chart")];
  if (!figures.length) return;

  let loading = null;
  function library() {
    loading ??= new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = "/library/chart.js";
      script.onload = () => resolve(window.Chart);
      script.onerror = reject;
      document.head.append(script);
    });
    return loading;
  }

  const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

  // in red light inks cannot tell lines apart, so dashes do
  const BROKEN = [6, 4];
  // one by one, by twos, threes and fours, so that without colours they are told apart too
  const DOTS = { one: [2, 7], two: [2, 3, 2, 7], three: [2, 3, 2, 3, 2, 7], four: [2, 3, 2, 3, 2, 3, 2, 7] };
  const DASHES = { one: [], two: [9, 3], three: [2, 3], four: [9, 3, 2, 3] };
  const red = () => document.documentElement.dataset.theme === "safelight";

  // minutes as the tables have them, m:ss
  function clock(minutes) {
    const whole = Math.round(Math.abs(minutes) * 60);
    const sign = minutes < 0 && whole ? "\u2212" : "";
    const hours = Math.floor(whole / 3600);
    const two = (value) => String(value).padStart(2, "0");
    const rest = `${hours ? two(Math.floor(whole / 60) % 60) : Math.floor(whole / 60)}:${two(whole % 60)}`;
    return `${sign}${hours ? `${hours}:` : ""}${rest}`;
  }

  const valueOf = (value, unit) => (unit === "min" ? clock(value) : `${value.toFixed(1)} ${unit}`);

  function faint(colour, share) {
    const hex = colour.replace("#", "");
    const part = (at) => parseInt(hex.slice(at, at + 2), 16);
    return `rgba(${part(0)}, ${part(2)}, ${part(4)}, ${share})`;
  }

  // bands, step marks and levels: what the still picture shows behind its lines
  const behind = {
    id: "behind",
    beforeDatasetsDraw(chart, _, options) {
      const { ctx: pen, chartArea: area, scales: { x, y } } = chart;
      pen.save();
      pen.beginPath();
      pen.rect(area.left, area.top, area.width, area.height);
      pen.clip();
      pen.font = "12px system-ui, sans-serif";
      for (const band of options.bands) {
        pen.fillStyle = faint(ink("ready"), 0.16);
        const top = y.getPixelForValue(band.high);
        pen.fillRect(area.left, top, area.width, Math.max(y.getPixelForValue(band.low) - top, 1));
        pen.fillStyle = ink("soft");
        pen.textAlign = "left";
        pen.fillText(band.name, area.left + 4, top - 4);
      }
      for (const level of options.levels) {
        const at = y.getPixelForValue(level.at);
        pen.strokeStyle = ink("ready");
        pen.setLineDash([6, 4]);
        pen.beginPath();
        pen.moveTo(area.left, at);
        pen.lineTo(area.right, at);
        pen.stroke();
        pen.fillStyle = ink("soft");
        pen.textAlign = "right";
        pen.fillText(level.name, area.right - 4, at - 4);
      }
      pen.textAlign = "left";
      pen.fillStyle = ink("soft");
      for (const [begin, end] of options.moves) {
        const from = x.getPixelForValue(begin);
        pen.fillRect(from, area.bottom - 7, Math.max(x.getPixelForValue(end) - from, 1), 7);
      }
      pen.setLineDash([2, 3]);
      pen.strokeStyle = ink("soft");
      const marks = options.marks.map((mark) => ({ ...mark, at: x.getPixelForValue(mark.at) }))
        .filter((mark) => mark.at >= area.left - 1 && mark.at <= area.right);
      for (const mark of marks) {
        pen.beginPath();
        pen.moveTo(mark.at, area.top);
        pen.lineTo(mark.at, area.bottom);
        pen.stroke();
      }
      // names stand above the lines that cross them; near the right edge before their own
      pen.setLineDash([]);
      pen.strokeStyle = ink("paper");
      pen.lineWidth = 4;
      const free = [-Infinity, -Infinity, -Infinity, -Infinity];  // where each row has room again
      for (const mark of marks) {
        const width = pen.measureText(mark.name).width;
        const left = mark.at + 3 + width < area.right ? mark.at + 3 : mark.at - 3 - width;
        const row = free.findIndex((end) => end <= left);
        if (row < 0) continue;
        pen.strokeText(mark.name, left, area.top + 11 + row * 13);
        pen.fillText(mark.name, left, area.top + 11 + row * 13);
        free[row] = left + width + 6;
      }
      pen.restore();
    },
  };

  function dashes(line) {
    if (line.stroke === "dotted") return DOTS[line.ink];
    if (line.stroke === "broken") return BROKEN;
    return red() ? DASHES[line.ink] : [];
  }

  function datasets(data) {
    const made = [];
    for (const line of data.lines) {
      const colour = ink(line.ink);
      const points = (list) => list.map(([x, y]) => ({ x, y }));
      if (line.upper) {
        made.push({ label: line.name, data: points(line.upper), borderWidth: 0, pointRadius: 0, pointHitRadius: 0,
          backgroundColor: faint(colour, 0.22), fill: "+1", spanGaps: false, quiet: true });
        made.push({ label: "", data: points(line.points), borderWidth: 0, pointRadius: 0, pointHitRadius: 0, fill: false, quiet: true });
      } else {
        made.push({ label: line.name, data: points(line.points), borderColor: colour, backgroundColor: colour,
          borderWidth: line.stroke === "dotted" ? 1.5 : 2, borderDash: dashes(line), pointRadius: 0, pointHitRadius: 12, spanGaps: false });
      }
    }
    if (data.moves.spans.length) {
      made.push({ label: data.moves.name, data: [], borderWidth: 0, backgroundColor: ink("soft"), quiet: true });
    }
    return made;
  }

  // the keys of the legend are drawn as their lines are, so that not only the ink tells them apart
  function legend(chart) {
    return chart.data.datasets.map((set, at) => ({
      text: set.label, fontColor: ink("ink"), datasetIndex: at, hidden: !chart.isDatasetVisible(at),
      pointStyle: set.quiet ? "rect" : "line", fillStyle: set.backgroundColor,
      strokeStyle: set.quiet ? "transparent" : set.borderColor, lineWidth: 2, lineDash: set.borderDash || [],
    })).filter((key) => key.text !== "");
  }

  function between(chart, from, to) {
    const scale = chart.options.scales.x;
    const { low, high } = chart.whole;
    if (to - from >= high - low) { from = low; to = high; }
    if (from < low) { to += low - from; from = low; }
    if (to > high) { from -= to - high; to = high; }
    scale.min = from;
    scale.max = to;
    const whole = from <= low && to >= high;
    // a button that goes takes the focus along to the one that stays
    const gone = [".chart-back", ".chart-earlier", ".chart-later"].map((name) => chart.figure.querySelector(name));
    if (whole && gone.includes(document.activeElement)) chart.figure.querySelector(".chart-closer").focus();
    for (const button of gone) button.hidden = whole;
    chart.update("none");
  }

  // by hand or key: closer around what is read, and to the sides
  function closer(chart, factor) {
    const { min, max } = chart.scales.x;
    const at = chart.reading >= min && chart.reading <= max ? chart.reading : (min + max) / 2;
    between(chart, at - (at - min) * factor, at + (max - at) * factor);
  }

  function aside(chart, share) {
    const { min, max } = chart.scales.x;
    between(chart, min + share * (max - min), max + share * (max - min));
  }

  // what every line says at a place, shown and read aloud
  function read(chart, at) {
    const { min, max } = chart.scales.x;
    chart.reading = Math.min(Math.max(at, min), max);
    const found = [];
    chart.data.datasets.forEach((set, datasetIndex) => {
      if (set.quiet || !chart.isDatasetVisible(datasetIndex)) return;
      let best = -1;
      set.data.forEach((point, index) => {
        if (point.y === null) return;
        if (best < 0 || Math.abs(point.x - chart.reading) < Math.abs(set.data[best].x - chart.reading)) best = index;
      });
      if (best >= 0 && Math.abs(set.data[best].x - chart.reading) <= (max - min) / STEPS) found.push({ datasetIndex, index: best });
    });
    chart.setActiveElements(found);
    chart.tooltip.setActiveElements(found, { x: chart.scales.x.getPixelForValue(chart.reading), y: chart.chartArea.top });
    chart.update("none");
    const says = found.map(({ datasetIndex, index }) => {
      const set = chart.data.datasets[datasetIndex];
      return `${set.label} ${valueOf(set.data[index].y, chart.unit)}`;
    });
    const live = chart.figure.querySelector(".chart-live");
    live.setAttribute("aria-valuenow", chart.reading.toFixed(2));
    live.setAttribute("aria-valuetext", `${clock(chart.reading)}: ${says.join(", ") || "nothing was read"}`);
  }

  // so many presses of an arrow lead across the chart
  const STEPS = 60;

  function keys(chart, event) {
    const { min, max } = chart.scales.x;
    const step = (max - min) / STEPS;
    const at = chart.reading ?? min;
    const does = {
      ArrowRight: () => read(chart, at + step), ArrowLeft: () => read(chart, at - step),
      PageDown: () => read(chart, at + 10 * step), PageUp: () => read(chart, at - 10 * step),
      Home: () => read(chart, min), End: () => read(chart, max),
      "+": () => closer(chart, 0.5), "-": () => closer(chart, 2), 0: () => between(chart, chart.whole.low, chart.whole.high),
    }[event.key];
    if (!does || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    does();
  }

  // keys and buttons speak to the chart that stands there now: another look makes another one
  function attend(figure) {
    const chart = () => window.Chart.getChart(figure.querySelector("canvas"));
    const live = figure.querySelector(".chart-live");
    live.addEventListener("keydown", (event) => { if (chart()) keys(chart(), event); });
    live.addEventListener("focus", () => { if (chart() && live.matches(":focus-visible")) read(chart(), chart().reading ?? chart().scales.x.min); });
    const press = {
      ".chart-closer": (one) => closer(one, 0.5),
      ".chart-earlier": (one) => aside(one, -0.5),
      ".chart-later": (one) => aside(one, 0.5),
      ".chart-back": (one) => between(one, one.whole.low, one.whole.high),
    };
    for (const [name, act] of Object.entries(press)) {
      figure.querySelector(name).onclick = () => { if (chart()) act(chart()); };
    }
    figure.querySelector(".chart-closer").hidden = false;
  }

  function zooming(chart) {
    const canvas = chart.canvas;
    const fingers = new Map();
    let begun = null;
    const value = (event) => chart.scales.x.getValueForPixel(event.clientX - canvas.getBoundingClientRect().left);
    canvas.addEventListener("pointerdown", (event) => {
      fingers.set(event.pointerId, event);
      if (event.pointerType === "mouse" && event.button === 0) begun = value(event);
      if (fingers.size === 2) {
        const [a, b] = [...fingers.values()].map(value);
        begun = [Math.min(a, b), Math.max(a, b)];
      }
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!fingers.has(event.pointerId)) return;
      fingers.set(event.pointerId, event);
      if (fingers.size !== 2 || !Array.isArray(begun)) return;
      const box = canvas.getBoundingClientRect();
      const area = chart.chartArea;
      const [a, b] = [...fingers.values()].map((one) => (one.clientX - box.left - area.left) / area.width).sort((p, q) => p - q);
      if (b - a < 0.03) return;
      const span = (begun[1] - begun[0]) / (b - a);
      between(chart, begun[0] - a * span, begun[0] + (1 - a) * span);
    });
    const up = (event) => {
      if (event.pointerType === "mouse" && typeof begun === "number" && event.type === "pointerup") {
        const ended = value(event);
        const width = chart.scales.x.max - chart.scales.x.min;
        if (Math.abs(ended - begun) > 0.02 * width) between(chart, Math.min(begun, ended), Math.max(begun, ended));
      }
      fingers.delete(event.pointerId);
      if (fingers.size < 2) begun = null;
    };
    for (const name of ["pointerup", "pointercancel", "pointerleave"]) canvas.addEventListener(name, up);
    canvas.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      const at = value(event);
      const { min, max } = chart.scales.x;
      const factor = event.deltaY > 0 ? 1.25 : 0.8;
      between(chart, at - (at - min) * factor, at + (max - at) * factor);
    }, { passive: false });
  }

  async function enliven(figure) {
    const [Chart, answer] = await Promise.all([library(), fetch(figure.dataset.chart)]);
    if (!answer.ok) return;
    const data = await answer.json();
    const canvas = figure.querySelector("canvas");
    figure.querySelector(".chart-live").hidden = false;
    figure.classList.add("alive");
    const axis = (name) => ({
      type: "linear",
      title: { display: true, text: name, color: ink("soft") },
      ticks: { color: ink("soft"), maxTicksLimit: 9, includeBounds: false },
      grid: { color: ink("line") },
      border: { color: ink("line") },
    });
    const chart = new Chart(canvas, {
      type: "line",
      data: { datasets: datasets(data) },
      options: {
        animation: false, parsing: false, normalized: true, responsive: true, maintainAspectRatio: false,
        interaction: { mode: "nearest", axis: "x", intersect: false },
        scales: {
          x: { ...axis(data.x), grid: { display: false } },
          // names of marks stand above the lines
          y: { ...axis(data.y), afterDataLimits: (scale) => { if (data.marks.length) scale.max += (scale.max - scale.min) * 0.22; } },
        },
        plugins: {
          behind: { bands: data.bands, marks: data.marks, levels: data.levels, moves: data.moves.spans },
          legend: { labels: { usePointStyle: true, pointStyleWidth: 30, boxHeight: 7, generateLabels: legend } },
          tooltip: {
            backgroundColor: ink("card"), titleColor: ink("ink"), bodyColor: ink("ink"),
            borderColor: ink("soft"), borderWidth: 1, displayColors: false,
            filter: (item) => !item.dataset.quiet,
            callbacks: {
              title: (items) => (items.length ? clock(items[0].parsed.x) : ""),
              label: (item) => `${item.dataset.label}: ${valueOf(item.parsed.y, data.unit)}`,
            },
          },
        },
      },
      plugins: [behind],
    });
    chart.figure = figure;
    chart.unit = data.unit;
    chart.whole = { low: chart.scales.x.min, high: chart.scales.x.max };
    const edges = data.lines.flatMap((line) => line.points.map((point) => point[0]));
    const begins = data.marks.slice(0, 1).map((mark) => mark.at);  // a little before the first reading
    if (edges.length) chart.whole = { low: Math.min(...edges, ...begins, ...data.reach), high: Math.max(...edges, ...data.reach) };
    between(chart, chart.whole.low, chart.whole.high);
    const live = figure.querySelector(".chart-live");
    live.setAttribute("aria-label", `${data.title}, read by the arrow keys`);
    live.setAttribute("aria-valuemin", chart.whole.low.toFixed(2));
    live.setAttribute("aria-valuemax", chart.whole.high.toFixed(2));
    live.setAttribute("aria-valuenow", chart.whole.low.toFixed(2));
    live.setAttribute("aria-valuetext", clock(chart.whole.low));
    zooming(chart);
  }

  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      seen.unobserve(entry.target);
      enliven(entry.target).then(() => attend(entry.target)).catch(() => {});  // the still picture is there already
    }
  }, { rootMargin: "200px" });
  for (const figure of figures) seen.observe(figure);

  // another look has other inks: what is drawn already is drawn anew on a fresh canvas
  document.addEventListener("look", () => {
    for (const figure of figures) {
      const canvas = figure.querySelector("canvas");
      const chart = window.Chart?.getChart(canvas);
      if (!chart) continue;
      chart.destroy();
      const fresh = document.createElement("canvas");
      fresh.setAttribute("aria-hidden", "true");
      canvas.replaceWith(fresh);
      enliven(figure).catch(() => {});
    }
  });
})();
