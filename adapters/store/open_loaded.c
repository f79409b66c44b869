/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/migrate.h"
#include "adapters/store/open_part.h"

OpenResult open_refuse(OpenResult result, const OpenRequest *request, char **why,
                       const char *reason)
{
    const char *where = request->place != NULL ? request->place->schema : request->path;

    *why = g_strdup_printf("%s: %s", where, reason);
    return result;
}

OpenResult open_refuse_damaged(OpenRequest *request, char **why, const char *how)
{
    g_autofree char *reason = g_strdup_printf("damaged: %s", how);

    request->damaged = true;
    return open_refuse(OPEN_NO_STORE, request, why, reason);
}

OpenResult open_loaded(OpenRequest *request, Tx *tx, char **why)
{
    g_autofree char *lacking = migrate_lacking(tx);

    if (lacking != NULL) return open_refuse_damaged(request, why, lacking);
    if (migrate_version(tx) > SCHEMA_VERSION)
        return open_refuse(OPEN_NEWER, request, why,
                           "written by a newer osier: use that, or a backup");
    if (!migrate_forward(tx) || (!engine_load(tx) && !request->checking))
        return open_refuse_damaged(request, why, tx->problem);
    if (!request->checking && tx->rehearsal != (request->mode == STORE_REHEARSAL))
        return open_refuse(OPEN_OTHER_MODE, request, why,
                           tx->rehearsal ? "a rehearsal's store: it does not open live"
                                         : "a live store: it does not open for a rehearsal");
    if (!request->checking && !engine_recall(tx, request->now_ms))
        return open_refuse_damaged(request, why, tx->problem);
    return OPEN_OK;
}

OpenResult open_born(OpenRequest *request, Tx *tx, const char *lacking, char **why)
{
    if (!request->make) return open_refuse(OPEN_NO_STORE, request, why, lacking);
    if (engine_birth(tx, request->replica, request->mode == STORE_REHEARSAL, request->now_ms))
        return OPEN_OK;
    return open_refuse(OPEN_CANNOT, request, why, tx->problem);
}
