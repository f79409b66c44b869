/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a gateway's answer, to a message and to a poll. The first line is the status, the second the content type. */
#include <stdlib.h>
#include <string.h>

#include "adapters/sms/sms_gateway.h"
#include "tests/fuzz/mapped.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void settle(const WireResponse *response)
{
    Settlement settlement = {0};

    sms_send_settle(mapped_gateway(), response, &settlement);
    g_assert(settlement.fate == FATE_ACCEPTED || settlement.fate == FATE_REFUSED ||
             settlement.fate == FATE_WAITING || settlement.fate == FATE_UNSURE);
    g_assert(settlement.reason == NULL || g_utf8_validate(settlement.reason, -1, NULL));
    g_assert(settlement.gateway_id == NULL || g_utf8_validate(settlement.gateway_id, -1, NULL));
    /* Only a status of the list refuses anybody. */
    if (settlement.fate == FATE_REFUSED)
        g_assert(response->status == 400 || response->status == 404 || response->status == 422);
    settlement_clear(&settlement);
}

static void poll(const WireResponse *response)
{
    g_autoptr(GPtrArray) items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    g_autofree char *cursor = NULL;
    g_autofree char *why = NULL;
    bool read = sms_poll_read(mapped_gateway(), response, items, &cursor, &why);

    g_assert(read || (why != NULL && items->len == 0 && cursor == NULL));
    g_assert(cursor == NULL || g_utf8_validate(cursor, -1, NULL));
    for (guint i = 0; i < items->len; i++)
        mapped_check(items->pdata[i]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *status = mapped_line(&data, &size);
    g_autofree char *type = status != NULL ? mapped_line(&data, &size) : NULL;

    if (type == NULL) return 0;
    g_autoptr(WireResponse) response = wire_response_new(PHASE_ANSWERED, atoi(status), "", NULL);
    g_bytes_unref(response->body);
    response->body = g_bytes_new(data, size);
    response->content_type = type[0] != '\0' ? g_strdup(type) : NULL;
    settle(response);
    poll(response);
    return 0;
}
