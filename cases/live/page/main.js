// Puts the page together.
import { byId, tabs } from './dom.js';
import { chosen } from './chosen.js';
import { drawing } from './drawing.js';
import { fields } from './fields.js';
import { panels } from './panels.js';
import { files } from './files.js';
import { kept } from './kept.js';
import { lesson } from './lesson.js';
import { pinning } from './pins.js';
import { edit, on, pending, state, step, touch } from './store.js';
import { space } from './space.js';
import { strings } from './strings.js';
import { work } from './work.js';

const VIEWS = { along: 'Along the strings', above: 'From above', side: 'Across the strings', space: 'In space' };

const showViews = tabs(byId('views'), VIEWS, () => state.view, (name) => { state.view = name; touch('view'); });
on('view opened', showViews);
drawing(byId('drawing'));
fields(byId('drawing'));
space(byId('drawing'));
chosen(byId('chosen'));
strings(byId('strings'));
panels(byId('panels'), byId('panel'));
files();
pinning();
kept();
lesson();
work();

byId('undo').onclick = () => step(-1);
byId('redo').onclick = () => step(1);
addEventListener('keydown', (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z') return;
  if (event.target instanceof HTMLInputElement && 'typed' in event.target.dataset) return; // a field takes back what is being typed
  event.preventDefault();
  step(event.shiftKey ? 1 : -1);
});
for (const kind of ['input', 'change']) {
  addEventListener(kind, (event) => {
    if (!(event.target instanceof HTMLInputElement)) return;
    if (kind === 'input') event.target.dataset.typed = ''; else delete event.target.dataset.typed;
  }, true);
}
on('history opened scene', () => {
  /** @type {HTMLButtonElement} */ (byId('undo')).disabled = !state.past.length;
  /** @type {HTMLButtonElement} */ (byId('redo')).disabled = !state.future.length;
});
on('scene', () => {
  byId('title').textContent = state.scene.title || state.name;
  document.title = `${state.scene.title || state.name} · stringflux`;
});
on('says', () => { byId('says').textContent = state.says; });

// For whoever looks into it from the browser's console.
Object.assign(globalThis, { stringflux: { state, edit, step, pending } });
