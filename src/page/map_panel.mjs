// The map on the page: drawn while its rows arrive, with a cursor for the keyboard; a click or Enter takes a setting.
import {$, h, fill} from './dom.mjs';
import {palette} from './svg.mjs';
import {shortLabel, typeset} from './words.mjs';
import {valueAt, withNumber, withValue, typed} from './keys.mjs';
import {drawMap, cellAt, cellBox, cellWords, axisText} from './map.mjs';
import {isWanted} from './window_panel.mjs';
import {refreshStrip, say} from './strip.mjs';

const cursor = {i: 0, j: 0};
let mapSize = {width: 600, height: 330};

export function paintMap(app) {
  const place = $('map');
  mapSize = {width: Math.max(300, place.clientWidth), height: place.clientWidth < 500 ? 300 : 318};
  const svg = drawMap(
    {axes: app.axes, cells: app.cells, wanted: app.mapWanted(), own: {x: app.axes.x.own, y: app.axes.y.own}},
    palette(),
    mapSize.width,
    mapSize.height,
  );
  const here = h('div', {class: 'here', 'aria-hidden': 'true'});
  fill(place, svg, here);
  placeCursor(app);
  const wanted = isWanted(app.wanted)
    ? `green: even fibre of ${app.wantedWords()}, the stronger the likelier; ochre: even fibre of another size`
    : 'green: even fibre';
  $('map-words').textContent =
    app.mapFault && !app.cells.some(Boolean)
      ? typeset(app.mapFault)
      : `Figures: \u00b5m, likelier answer; ${wanted}; hatched: no even dry fibre (~ wet film, \u00d7 drops or nothing). Ring: your setting. Click a field to go there.`;
}

function placeCursor(app) {
  const here = $('map').querySelector('.here');
  if (!here) return;
  const box = cellBox(app.axes, mapSize.width, mapSize.height, cursor.i, cursor.j);
  Object.assign(here.style, {
    left: `${box.x}px`,
    top: `${box.y}px`,
    width: `${box.width}px`,
    height: `${box.height}px`,
  });
}

function takeCell(app, i, j) {
  const {x, y} = app.axes;
  let next = app.document;
  for (const [axis, at] of [
    [x, i],
    [y, j],
  ]) {
    const old = valueAt(next, axis.key.path);
    next = withValue(
      next,
      axis.key.path,
      old === undefined ? typed(axis.key, axisText(axis, axis.values[at])) : withNumber(old, axis.values[at]),
    );
  }
  app.document = next;
  say('');
  app.changed('map-cell');
  refreshStrip(app);
}

export function wireMap(app) {
  app.use = (i, j) => takeCell(app, i, j);
  const map = $('map');
  map.tabIndex = 0;
  map.setAttribute('role', 'application');
  map.setAttribute('aria-label', 'Map: arrow keys move over the settings, Enter takes one');
  map.setAttribute('aria-describedby', 'map-words');
  map.addEventListener('click', (event) => {
    const box = map.querySelector('svg').getBoundingClientRect(),
      scale = mapSize.width / box.width;
    const at = cellAt(
      app.axes,
      mapSize.width,
      mapSize.height,
      (event.clientX - box.left) * scale,
      (event.clientY - box.top) * scale,
    );
    if (at) app.use(at.i, at.j);
  });
  map.addEventListener('keydown', (event) => {
    const move = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1]}[event.key];
    if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault();
      app.use(cursor.i, cursor.j);
      return;
    }
    if (!move) return;
    event.preventDefault();
    cursor.i = Math.min(app.axes.x.values.length - 1, Math.max(0, cursor.i + move[0]));
    cursor.j = Math.min(app.axes.y.values.length - 1, Math.max(0, cursor.j + move[1]));
    placeCursor(app);
    say(cellWords(app.cells[cursor.j * app.axes.x.values.length + cursor.i], app.axes, cursor.i, cursor.j));
  });
  map.addEventListener('pointermove', (event) => {
    const svg = map.querySelector('svg');
    if (!svg || event.pointerType === 'touch') return;
    const box = svg.getBoundingClientRect(),
      scale = mapSize.width / box.width;
    const at = cellAt(
      app.axes,
      mapSize.width,
      mapSize.height,
      (event.clientX - box.left) * scale,
      (event.clientY - box.top) * scale,
    );
    map.title = at ? cellWords(app.cells[at.j * app.axes.x.values.length + at.i], app.axes, at.i, at.j) : '';
  });
  for (const id of ['map-x', 'map-y'])
    $(id).addEventListener('change', () => {
      const [x, y] = [$('map-x').value, $('map-y').value];
      if (x === y) {
        say('The map needs two different settings.');
        fillAxes(app);
        return;
      }
      app.setAxes(x, y);
    });
}

export function fillAxes(app) {
  for (const [id, axis] of [
    ['map-x', app.axes.x],
    ['map-y', app.axes.y],
  ]) {
    fill(
      $(id),
      app.numericKeys().map((key) => h('option', {value: key.path}, shortLabel(key.path))),
    );
    $(id).value = axis.key.path;
  }
}
