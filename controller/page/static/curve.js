// The curve: bowl, bath and what the bowl is meant to be, over the minutes of the run, as SVG.
const NS = "http://www.w3.org/2000/svg";
const EDGE = { left: 44, right: 52, top: 22, bottom: 24 };
const STEPS = [1, 2, 5, 10, 20, 30, 60, 120, 240];

function make(name, attributes, text) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

function step(span, most) {
  return STEPS.find((one) => span / one <= most) ?? 480;
}

function line(values, x, y) {
  let pen = "M";
  return values.map((value, i) => {
    if (value === null) { pen = "M"; return ""; }
    const point = `${pen}${x(i).toFixed(1)} ${y(value).toFixed(1)}`;
    pen = "L";
    return point;
  }).join("");
}

export function draw(svg, data) {
  const width = svg.clientWidth, height = svg.clientHeight;
  if (width < 100 || height < 80) return;
  const seen = [...data.bowl, ...data.bath, ...data.target].filter((value) => value !== null);
  if (seen.length === 0) return;
  const low = Math.floor(Math.min(...seen)) - 1, high = Math.ceil(Math.max(...seen)) + 1;
  const first = data.minutes[0], last = Math.max(data.minutes.at(-1), first + 1);
  const right = width - EDGE.right, bottom = height - EDGE.bottom;
  const at = (minute) => EDGE.left + (right - EDGE.left) * (minute - first) / (last - first);
  const x = (i) => at(data.minutes[i]);
  const y = (value) => bottom - (bottom - EDGE.top) * (value - low) / (high - low);
  const parts = [];
  const degrees = step(high - low, Math.max(2, height / 36));
  for (let value = Math.ceil(low / degrees) * degrees; value <= high; value += degrees) {
    parts.push(make("line", { class: "grid", x1: EDGE.left, x2: right, y1: y(value), y2: y(value) }));
    parts.push(make("text", { x: EDGE.left - 6, y: y(value) + 4, "text-anchor": "end" }, `${value}°`));
  }
  const minutes = step(last - first, Math.max(2, width / 85));
  for (let minute = Math.ceil(first / minutes) * minutes; minute <= last; minute += minutes) {
    parts.push(make("text", { x: at(minute), y: height - 6, "text-anchor": "middle" }, `${minute} min`));
  }
  let free = 0;
  for (const [phase, begins] of data.phases) {
    const begin = at(begins);
    parts.push(make("line", { class: "grid", x1: begin, x2: begin, y1: 4, y2: bottom }));
    if (begin >= free) {
      parts.push(make("text", { x: begin + 4, y: 15 }, phase));
      free = begin + 12 + 8 * phase.length;
    }
  }
  for (const name of ["target", "bath", "bowl"]) parts.push(make("path", { class: name, d: line(data[name], x, y) }));
  parts.push(...labels(data, right, y));
  svg.replaceChildren(...parts);
  svg.setAttribute("aria-label", spoken(data));
}

// Each line bears its name at its end; two that end close together make room for one another.
function labels(data, right, y) {
  const ends = ["bowl", "bath"].map((name) => [name, data[name].at(-1)]).filter(([, value]) => value !== null);
  const heights = ends.map(([, value]) => y(value) + 4);
  if (heights.length === 2 && Math.abs(heights[0] - heights[1]) < 16) {
    const above = heights[0] <= heights[1] ? 0 : 1;
    const middle = (heights[0] + heights[1]) / 2;
    heights[above] = middle - 8;
    heights[1 - above] = middle + 8;
  }
  return ends.map(([name], i) => make("text", { class: `of-${name}`, x: right + 6, y: heights[i] }, name));
}

function spoken(data) {
  const of = (name) => {
    const seen = data[name].filter((value) => value !== null);
    if (seen.length === 0) return `${name} unknown`;
    return `${name} from ${seen[0]} to ${seen.at(-1)} ${data.unit}, at most ${Math.max(...seen)}`;
  };
  const phases = data.phases.map(([phase, begins]) => `${phase} from minute ${Math.round(begins)}`).join(", ");
  return `Temperatures over ${Math.round(data.minutes.at(-1) - data.minutes[0])} minutes: ${of("bowl")}; ${of("bath")}. Phases: ${phases}.`;
}
