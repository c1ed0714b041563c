"""Static files under hashed names, ES modules' imports included."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class ModuleManifestStorage(CompressedManifestStaticFilesStorage):
    """Rewrites `import "./x.js"` to the hashed name; gzip only, Brotli costs seconds a start."""

    support_js_module_import_aggregation = True
