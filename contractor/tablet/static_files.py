"""The storage of static files whose modules find each other by their hashed names.

Without this a page's modules would import one another by plain names, and an old page could be given a new module.
"""

from whitenoise.storage import CompressedManifestStaticFilesStorage

# Only our own modules: Django's own rewriting of imports takes sentences in other people's files for imports.
FROM = r"""(?P<matched>(?P<before>\b(?:import|export)\b[^"';]*?\bfrom\s*)["'](?P<url>\.{1,2}/[^"']+)["'])"""


class ModuleStaticFilesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """As its base, with the imports of modules under ``js/`` rewritten too."""

    patterns = (*CompressedManifestStaticFilesStorage.patterns, ("js/*.js", ((FROM, '%(before)s"%(url)s"'),)))
    # One pass for each step of the longest chain of imports; the tablet's is longer than Django's five.
    max_post_process_passes = 20
