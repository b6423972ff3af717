// Curves: uPlot in the page's colours.
import uPlot from './vendor/uPlot.esm.js';

/** @param {string} name */
export const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

/**
 * A plot that is made once and given new numbers.
 * @param {HTMLElement} place
 * @param {{x: string, y: string, series: {label: string, stroke: string, width?: number, dash?: number[], points?: boolean}[], log?: boolean, height?: number, time?: boolean}} set
 */
export function plot(place, set) {
  const axis = (/** @type {string} */ label) => ({ label, labelSize: 18, labelFont: '12px system-ui', font: '12px system-ui', size: 52,
    values: (/** @type {any} */ _, /** @type {(number | null)[]} */ marks) => marks.map((v) => (v === null ? '' : String(Number(v.toPrecision(9))).replace('-', '−'))),
    stroke: () => colour('ink'), grid: { stroke: () => colour('line'), width: 1 }, ticks: { stroke: () => colour('line'), width: 1 } });
  const options = {
    width: Math.max(place.clientWidth, 280), height: set.height ?? 190,
    scales: { x: { time: false, distr: set.log ? 3 : 1, range: (/** @type {any} */ _, /** @type {number} */ a, /** @type {number} */ b) => (b > a ? [a, b] : [1, 2]) } },
    legend: { show: set.series.length > 1, live: false },
    cursor: { drag: { x: false, y: false } }, pxAlign: 0,
    axes: [{ ...axis(set.x), size: 30 }, { ...axis(set.y), space: 15 }],
    series: [{ label: set.x }, ...set.series.map((s) => ({ label: s.label, stroke: () => colour(s.stroke), width: s.width ?? 1.6,
      dash: s.dash, points: { show: s.points ?? false } }))],
  };
  const made = new uPlot(/** @type {any} */ (options), /** @type {any} */ ([[], ...set.series.map(() => [])]), place);
  new ResizeObserver(() => {
    if (place.clientWidth > 0) made.setSize({ width: place.clientWidth, height: set.height ?? 190 });
  }).observe(place);
  return made;
}
