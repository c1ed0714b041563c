// The one act of the result page.
import { on } from "../../labsite/js/dom.js";

on(document, "click", "[data-print]", () => window.print());
