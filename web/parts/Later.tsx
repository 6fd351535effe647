/** A sheet whose scripts are fetched when it is first opened: an old laptop does not read what nobody looks at. */
import type { ComponentType } from 'preact';
import { useEffect, useState } from 'preact/hooks';

/** The sheet that `load` gives; until it is there, an empty page, which is a moment on this computer. */
export function later<P extends object>(load: () => Promise<ComponentType<P>>): ComponentType<P> {
  let known: ComponentType<P> | null = null;
  return function Later(props: P) {
    const [Shown, setShown] = useState<{ is: ComponentType<P> } | null>(known && { is: known });
    const [failed, setFailed] = useState(false);
    useEffect(() => {
      if (Shown !== null) return;
      let isGone = false;
      load().then(
        (sheet) => {
          known = sheet;
          if (!isGone) setShown({ is: sheet });
        },
        () => !isGone && setFailed(true),
      );
      return () => {
        isGone = true;
      };
    }, []);
    if (Shown !== null) return <Shown.is {...props} />;
    if (!failed) return null;
    return (
      <p role="alert">
        This sheet could not be fetched: the workbench was ended or set up anew. Start it with “bywright open”
        in the build’s folder, then reload this page.
      </p>
    );
  };
}
