// Shows /openapi.json with the vendored Swagger UI. A file of its own, since the pages allow no inline script.
"use strict";

SwaggerUIBundle({
  url: "/openapi.json",
  domNode: document.getElementById("operations"),
  deepLinking: true,
  validatorUrl: null, // the default asks a server on the internet
});
