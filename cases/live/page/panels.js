// What the pickup does, one panel at a time.
import { tabs } from './dom.js';
import { coil } from './coil.js';
import { flux } from './flux.js';
import { materials } from './materials.js';
import { pins } from './pins.js';
import { on, state, touch } from './store.js';

/** A panel draws itself into its place, and listens. @type {Record<string, [string, (place: HTMLElement) => void]>} */
const PANELS = { flux: ['Flux', flux], coil: ['Coil', coil], materials: ['Materials', materials], pins: ['Pins', pins] };

/** @param {HTMLElement} list @param {HTMLElement} place */
export function panels(list, place) {
  const boxes = Object.entries(PANELS).map(([name, [words, begin]]) => {
    const box = document.createElement('section');
    box.id = `panel-${name}`;
    box.setAttribute('role', 'tabpanel');
    box.setAttribute('aria-labelledby', `tab-${name}`);
    box.tabIndex = 0;
    box.setAttribute('aria-label', words);
    place.append(box);
    begin(box);
    return box;
  });
  const show = tabs(list, Object.fromEntries(Object.entries(PANELS).map(([n, [w]]) => [n, w])), () => state.panel,
    (name) => { state.panel = name; touch('panel'); });
  const now = () => {
    show();
    const turned = boxes.filter((box) => box.hidden !== (box.id !== `panel-${state.panel}`));
    turned.forEach((box) => { box.hidden = !box.hidden; });
    if (turned.length) touch('panel'); // what was hidden has not drawn itself
  };
  on('panel opened', now);
  now();
}
