// The coil at its terminals, and what controls and cable make of it.
import { make } from './dom.js';
import { fresh, on, state } from './store.js';
import { number, quantity } from './words.js';

/** @param {HTMLElement} place */
export function coil(place) {
  const list = make('dl', {});
  place.append(list);
  on('coil winding strings', () => {
    const found = state.answers.coil?.answer;
    if (!found || found.refused) return;
    list.className = fresh('coil') ? '' : 'dim';
    const rows = [['R', quantity(found.resistance, 'Ω')], ['L', quantity(found.inductance, 'H')], ['C', quantity(found.capacitance, 'F')],
      ['loaded peak', found.loaded.resonance ? `${quantity(found.loaded.resonance, 'Hz')}, ${number(found.loaded.peak, 2)} dB` : 'none']];
    list.replaceChildren(...rows.flatMap(([a, b]) => [make('dt', {}, a), make('dd', {}, b)]));
  });
}
