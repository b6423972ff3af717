// A class: where it reads along, for the teacher to show.
import { byId, draw, make } from './dom.js';
import { listenTo } from './store.js';

export function lesson() {
  listenTo.set('readers', (message) => { const count = document.getElementById('readers'); if (count) count.textContent = readers(message.count); });
  const before = listenTo.get('opened');
  listenTo.set('opened', (message) => {
    before?.(message);
    if (!message.class) return;
    const { address, qr, size } = message.class;
    const code = draw('svg', { viewBox: `0 0 ${size} ${size}`, class: 'qr', role: 'img', 'aria-label': `QR code of ${address}` },
      draw('rect', { width: size, height: size, fill: '#fff' }), draw('path', { d: qr, fill: '#000' }));
    const box = make('details', { id: 'class' }, make('summary', {}, 'Class: ', make('span', { id: 'readers' }, readers(message.class.readers))),
      make('p', {}, address), code);
    byId('more').append(box);
  });
}

/** @param {number} count */
function readers(count) { return count === 1 ? '1 reader' : `${count} readers`; }
