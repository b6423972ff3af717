// Every string: how loud, in what field, how far the magnets pull it.
import { make } from './dom.js';
import { stringNow } from './estimate.js';
import { choose, fresh, on, state } from './store.js';
import { number, signed } from './words.js';

const HEADS = [['string', ''], ['gap', ''], ['S, mV per m/s', ''], ['level', 'against the loudest, all moving equally fast'],
  ['equal force', 'against the loudest, all plucked with the same force'], ['doubt', ''], ['field, mT', ''], ['pull', '']];

/** @param {HTMLElement} place */
export function strings(place) {
  on('scene strings maps loop pull chosen pins', () => show(place));
}

/** @param {HTMLElement} place */
function show(place) {
  const found = state.answers.strings?.answer;
  if (!state.scene || !found || found.refused) {
    place.replaceChildren(make('p', { className: 'dim' }, found?.refused ?? ''));
    return;
  }
  const pull = state.answers.pull?.answer?.strings ?? [];
  const least = Math.min(-6, ...found.strings.map((/** @type {any} */ s) => s.level ?? -40));
  const now = state.scene.strings.map((/** @type {any} */ s, /** @type {number} */ i) => (fresh('strings') ? null : stringNow(i)));
  const about = now.length && now.every((/** @type {any} */ n) => n?.known);
  const loudest = about ? Math.max(...now.map((/** @type {any} */ n) => n.sensitivity)) : 0;
  const plucked = about ? found.strings.map((/** @type {any} */ of, /** @type {number} */ i) => of.level_force + 20 * Math.log10(now[i]?.sensitivity / of.sensitivity)) : [];
  const most = Math.max(...plucked);
  const rows = found.strings.map((/** @type {any} */ of, /** @type {number} */ i) => {
    const s = about ? { ...of, sensitivity: now[i].sensitivity, level: 20 * Math.log10(now[i].sensitivity / loudest), level_force: plucked[i] - most } : of;
    const drawn = state.scene.strings[i];
    if (!drawn) return '';
    const item = `string.${s.number}`;
    const [low, high] = s.band;
    const doubt = of.sensitivity ? 20 * Math.log10(high / low) / 2 : null;
    const ghosts = state.pins.map((pin) => pin.answers.strings?.answer?.strings?.[i]).filter(Boolean);
    const bar = make('meter', { min: 0, max: 1, value: s.level === null ? 0 : 1 - s.level / least, title: `${signed(s.level)} against the loudest` });
    return make('tr', { className: item === state.chosen ? 'chosen' : '', onclick: () => choose(item) },
      make('th', { scope: 'row' }, make('button', { type: 'button', onclick: () => choose(item) }, `${s.number} ${drawn.pitch}`)),
      make('td', {}, `${number(drawn.gap)} mm`),
      make('td', { title: about ? 'estimated in the page, until the program answers' : '' }, `${about ? '≈ ' : ''}${number(1e3 * s.sensitivity)}`), make('td', {}, bar, ' ', signed(s.level),
        ...ghosts.map((g) => make('span', { className: 'ghost' }, ` ${signed(20 * Math.log10(s.sensitivity / g.sensitivity))}`))),
      make('td', {}, signed(s.level_force)),
      make('td', {}, doubt === null ? '–' : `± ${doubt.toFixed(1)} dB`),
      make('td', { className: about ? 'dim' : '' }, `${number(1e3 * s.bias[2])}`),
      make('td', { className: about && !fresh('pull') ? 'dim' : '' }, pull[i] ? signed(pull[i].cents_z, 'ct') : '–'));
  });
  const table = make('table', { className: fresh('strings') || about ? '' : 'dim' },
    make('thead', {}, make('tr', {}, ...HEADS.map(([h, title]) => make('th', { scope: 'col', title }, h)))),
    make('tbody', {}, ...rows));
  const held = [...place.querySelectorAll('button')].indexOf(/** @type {any} */ (document.activeElement));
  place.replaceChildren(table);
  if (held >= 0) place.querySelectorAll('button')[held]?.focus();
}
