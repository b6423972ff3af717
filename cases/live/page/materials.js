// Materials of the table and of the case, each with its curve and where it is from; one is put in by a press.
import { make } from './dom.js';
import { plot } from './plot.js';
import { edit, on, send, state } from './store.js';

const USES = /** @type {Record<string, string>} */ ({ magnet: 'Magnets', soft: 'Soft steels', string: 'String metals', own: 'Of this case' });
const OF_USE = /** @type {Record<string, string>} */ ({ string: 'H along the wire, kA/m', magnet: 'H, kA/m', soft: 'H, kA/m', own: 'H, kA/m' });

/** @param {HTMLElement} place */
export function materials(place) {
  const list = make('select', { id: 'material', 'aria-label': 'Material' });
  const put = make('button', { type: 'button', id: 'put-material' }, 'Put it in');
  const box = make('div', { className: 'plot' });
  const source = make('p', { className: 'source' });
  place.append(make('div', { className: 'bar' }, list, put), box, source);
  const curve = plot(box, { x: 'H, kA/m', y: 'B, T', series: [{ label: 'B', stroke: 'accent' }] });
  let asked = -1;
  let chosen = '';
  let aimed = '';

  on('panel scene chosen', () => {
    if (!shown() || !state.scene) return;
    if (!state.answers.materials && asked !== state.design && !state.busy) ask();
    aim();
  });
  on('done', () => { if (shown() && !state.answers.materials) ask(); });
  on('materials', () => { fill(); aim(); });
  list.onchange = () => { chosen = list.value; show(); aim(); };
  put.onclick = () => {
    const target = targetOf();
    if (target && list.value) edit({ path: target.path, value: list.value });
  };

  const shown = () => state.panel === 'materials';

  /** Show what the chosen thing is made of, and say where another would go. */
  function aim() {
    const target = targetOf();
    const use = state.answers.materials?.answer?.materials?.find((/** @type {any} */ m) => m.name === list.value)?.use;
    const fits = target && (use === 'own' || target.string === (use === 'string'));
    put.disabled = !fits;
    put.textContent = !target ? 'Choose a pole, a body or a string first' : fits ? `Put it into ${target.title}`
      : target.string ? 'This is no string metal' : 'This is a string metal';
    if (target && aimed !== `${state.design} ${target.path}`) { aimed = `${state.design} ${target.path}`; choose(target.now); }
  }

  function ask() {
    asked = state.design;
    send({ kind: 'compute', design: state.design, text: state.text, quality: 'draft', topics: ['materials'], string: 1, swing: state.swing });
  }

  /** Where a material goes: the first table of what is chosen that has one. */
  function targetOf() {
    const item = state.scene?.items[state.chosen];
    for (const path of item?.tables ?? []) {
      const table = state.scene.tables.find((/** @type {any} */ t) => t.path === path);
      const key = table?.keys.find((/** @type {any} */ k) => k.key === 'material' || k.key === 'steel');
      if (key) return { path: `${path}.${key.key}`, title: table.title, now: key.written || key.value || inherited(key.key), string: key.key === 'steel' };
    }
    return null;
  }

  /** What holds where a string says nothing itself. @param {string} key */
  function inherited(key) {
    const one = state.scene.tables.find((/** @type {any} */ t) => t.path === 'strings')?.keys.find((/** @type {any} */ k) => k.key === key);
    return key === 'steel' ? one?.written || one?.value || '' : '';
  }

  /** @param {string} name */
  function choose(name) {
    if (!name || name === chosen) return;
    chosen = name;
    if (list.options.length) { list.value = name; show(); aim(); }
  }

  function fill() {
    const found = state.answers.materials?.answer?.materials ?? [];
    const groups = Object.entries(USES).map(([use, words]) => make('optgroup', { label: words },
      ...found.filter((/** @type {any} */ m) => m.use === use).map((/** @type {any} */ m) => make('option', { value: m.name }, m.name))));
    list.replaceChildren(...groups.filter((g) => g.children.length));
    if (chosen) list.value = chosen;
    show();
  }

  function show() {
    const one = state.answers.materials?.answer?.materials?.find((/** @type {any} */ m) => m.name === list.value);
    if (!one) return;
    curve.setData([Array.from(one.h, (/** @type {number} */ h) => h / 1e3), Array.from(one.b)]);
    box.title = OF_USE[one.use];
    source.textContent = one.source;
  }
}
