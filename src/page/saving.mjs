// The two pictures of the first screen that have their button in the page: the map, and jet, vessel or mat.
import {$} from './dom.mjs';
import {drawMap} from './map.mjs';
import {pictureOf} from './first.mjs';
import {offerPicture, wireDialog} from './save_dialog.mjs';

const mapOf = (app) => ({
  draw: (colours) =>
    drawMap(
      {axes: app.axes, cells: app.cells, wanted: app.mapWanted(), own: {x: app.axes.x.own, y: app.axes.y.own}},
      colours,
      620,
      400,
    ),
  words: $('map-words').textContent.replace(/ Ring:.*/, ' Ring: the setting of the case.'),
  name: 'map',
  quick: true,
});

const shownOf = (app) => ({
  draw: (colours) => pictureOf(app, app.picture).draw(colours, 420),
  words: $('picture-words').textContent,
  name: app.picture,
});

export function wireSaving(app) {
  for (const button of document.querySelectorAll('.save-picture'))
    button.addEventListener('click', () =>
      offerPicture(app, button.dataset.picture === 'map' ? mapOf(app) : shownOf(app)),
    );
  wireDialog();
}
