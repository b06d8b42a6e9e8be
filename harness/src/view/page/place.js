// Where the page is drawn: the document, or within a report the shadow of an element, apart from the report's own names.
const host = document.getElementById('try-page');
export const carried = Boolean(host);
export const root = host?.shadowRoot ?? document;
/// Carries the colours and the marks of the page as a whole.
export const bearer = carried ? root.querySelector('.page') : document.body;
export const css = (name) => getComputedStyle(bearer).getPropertyValue(name).trim();
