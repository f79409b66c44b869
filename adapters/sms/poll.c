/* SPDX-License-Identifier: Apache-2.0 */
/* In, by asking: the gateway's list of messages after a cursor. */
#include <string.h>

#include "adapters/sms/document.h"
#include "adapters/sms/incoming.h"
#include "adapters/sms/template.h"

enum { CURSOR_MAX = 4096 };

static WireRequest *request_for(const Gateway *gateway, const PollMapping *poll, const char *cursor,
                                SecretLookup *secret, void *context, char **why)
{
    const Filling fillings[] = {{"cursor", cursor}, {NULL, NULL}};
    const Scope scope = {.fillings = fillings, .secret = secret, .context = context};
    g_autofree char *url = template_url(poll->url, &scope, why);

    if (url == NULL) return NULL;
    g_autoptr(WireRequest) request = wire_request_new(EXCHANGE_HTTP, url);
    request->method = g_strdup("GET");
    request->repeatable = true;
    request->timeout_ms = gateway->answer_ms;
    if (!template_headers(request, poll->headers, &scope, why)) return NULL;
    return g_steal_pointer(&request);
}

WireRequest *sms_poll_request(const Gateway *gateway, const char *cursor, SecretLookup *secret,
                              void *context, char **why)
{
    return request_for(gateway, gateway->poll, cursor, secret, context, why);
}

WireRequest *sms_receipts_request(const Gateway *gateway, const char *cursor, SecretLookup *secret,
                                  void *context, char **why)
{
    return request_for(gateway, gateway->receipts->poll, cursor, secret, context, why);
}

/* The items' list; an absent or null one is told apart by the pointer, for null is how some write
 * "none". */
static json_t *list_of(const PollMapping *poll, const Document *document, char **why)
{
    json_t *list = document_find(document->root, poll->items != NULL ? poll->items : "");

    if (document->root == NULL)
        *why = g_strdup(document->why);
    else if (list == NULL)
        *why = g_strdup_printf("no list of messages at '%s'", poll->items);
    else if (!json_is_array(list) && !json_is_null(list))
        *why = g_strdup_printf("no list at '%s', but something else", poll->items);
    else
        return list;
    return NULL;
}

/* One that is there and cannot be used is told: the gateway would give the same page for ever, and what comes after it never. */
static char *next_cursor(const PollMapping *poll, json_t *root, char **why)
{
    json_t *value = document_find(root, poll->cursor);
    g_autofree char *cursor = document_text(value);

    /* null, or false for it, is the end of the list */
    if (cursor == NULL && value != NULL && !json_is_null(value) && !json_is_false(value))
        *why = g_strdup_printf("the cursor at '%s' is neither a text nor a number", poll->cursor);
    else if (cursor != NULL && strlen(cursor) > CURSOR_MAX)
        *why =
            g_strdup_printf("the cursor at '%s' is longer than %d bytes", poll->cursor, CURSOR_MAX);
    return cursor != NULL && *cursor != '\0' && strlen(cursor) <= CURSOR_MAX
               ? g_steal_pointer(&cursor)
               : NULL;
}

/* The list of a good answer, borrowed from document; NULL and *why. */
static json_t *read_list(const PollMapping *poll, const WireResponse *response, Document *document,
                         char **why)
{
    size_t length;
    const void *body = g_bytes_get_data(response->body, &length);

    if (response->phase != PHASE_ANSWERED || response->status < 200 || response->status > 299) {
        *why = response->phase != PHASE_ANSWERED
                   ? g_strdup(response->error != NULL ? response->error : "no answer")
                   : g_strdup_printf("HTTP %ld", response->status);
        return NULL;
    }
    document_read(document, response->content_type, body, length);
    return list_of(poll, document, why);
}

bool sms_poll_read(const Gateway *gateway, const WireResponse *response, GPtrArray *items,
                   char **cursor, char **why)
{
    const PollMapping *poll = gateway->poll;
    const IncomingMapping fields = {
        .id = poll->id, .from = poll->from, .text = poll->text, .at = poll->at};
    g_auto(Document) document = {0};
    json_t *list = read_list(poll, response, &document, why);
    json_t *item;
    size_t index;

    *cursor = NULL;
    if (list == NULL) return false;
    json_array_foreach(list, index, item)
        g_ptr_array_add(items, incoming_read(&fields, item, document.mended));
    *cursor = next_cursor(poll, document.root, why);
    return true;
}

bool sms_receipts_read(const Gateway *gateway, const WireResponse *response, GPtrArray *receipts,
                       char **cursor, char **why)
{
    const ReceiptMapping *mapping = gateway->receipts;
    const ReceiptMapping fields = {.id = mapping->poll->id,
                                   .status = mapping->poll->text,
                                   .delivered = mapping->poll_delivered,
                                   .failed = mapping->poll_failed};
    g_auto(Document) document = {0};
    json_t *list = read_list(mapping->poll, response, &document, why);
    json_t *item;
    size_t index;

    *cursor = NULL;
    if (list == NULL) return false;
    json_array_foreach(list, index, item)
    {
        Receipt *receipt = receipt_read_item(&fields, item);
        if (receipt != NULL) g_ptr_array_add(receipts, receipt);
    }
    *cursor = next_cursor(mapping->poll, document.root, why);
    return true;
}
