// λ of the chosen string over its displacement, with the tangent that S is.
import { make } from './dom.js';
import { row } from './frames.js';
import { plot } from './plot.js';
import { on, state } from './store.js';

/** @param {HTMLElement} place */
export function flux(place) {
  const box = make('div', { className: 'plot' });
  place.append(make('h2', {}, 'Flux of the string over its displacement'), box);
  const curve = plot(box, { x: 'up, mm', y: 'λ, µWb', series: [{ label: 'λ', stroke: 'accent' }, { label: 'S', stroke: 'soft', dash: [5, 4] }] });
  on('maps string panel', () => {
    const found = state.answers.maps?.answer?.strings?.[state.string - 1];
    if (!found || place.hidden) return;
    const middle = row(found.linkage, (found.y.length - 1) / 2);
    const z = Array.from(found.z, (v) => 1e3 * v);
    const at = z.reduce((best, v, i) => (Math.abs(v) < Math.abs(z[best]) ? i : best), 0);
    const S = (state.answers.strings?.answer?.strings?.[state.string - 1]?.curve ?? 0) * Math.sign(middle[at + 1] - middle[at]);
    const lambda = Array.from(middle, (v) => 1e6 * v);
    curve.setData([z, lambda, z.map((v) => (Math.abs(v) < 1 ? lambda[at] + 1e3 * S * v : null))]);
  });
}
