/** Loads the scripts that only some pages need, from beside the client's own. */

const { currentScript } = document;
const HERE = currentScript instanceof HTMLScriptElement ? currentScript.src || location.href : location.href;

/**
 * Puts a script into the page: what is opened from disk can load it no other way.
 * @param {string} name @returns {Promise<void>} rejects where it cannot be had
 */
export function beside(name) {
  return new Promise((resolve, reject) => {
    const element = document.createElement("script");
    element.src = new URL(name, HERE).href;
    element.onload = () => resolve();
    element.onerror = () => {
      element.remove();
      reject(new Error(`${element.src} could not be loaded`));
    };
    document.head.append(element);
  });
}
