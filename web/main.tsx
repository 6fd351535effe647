import { render } from 'preact';
import { App } from './app.tsx';
import { routeOf } from './route.ts';

const route = routeOf(location.hash);
// The server reads a long recording while this page is still being put together; the sheet asks again and gets an answer.
if (route.sheet === 'captures' && route.capture !== null)
  fetch(`/api/captures/${encodeURIComponent(route.capture)}/overview?pixels=1`).catch(() => {});

render(<App />, document.querySelector('#manual') as Element);
