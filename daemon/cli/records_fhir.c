/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/records_fhir.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/records/fhir.h"
#include "adapters/store/find_export.h"
#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "core/ledger/body.h"
#include "core/ledger/row.h"

#define BASE "https://osier.example/fhir/"

typedef struct {
    const char *folder; /* NULL: a Bundle */
    FILE *bundle;
    GHashTable *files; /* type -> FILE */
    GString *text;     /* of one resource */
    int64_t resources;
    char *problem;
} Sink;

/* --- files ------------------------------------------------------------------------------------ */

static FILE *make_file(const char *path, char **problem)
{
    int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    FILE *out = file >= 0 ? fdopen(file, "w") : NULL;

    if (out == NULL && *problem == NULL)
        *problem = g_strdup_printf("cannot be made: %s: %s", path, g_strerror(errno));
    return out;
}

static void close_file(FILE *file, Sink *sink)
{
    bool good = !ferror(file) && fflush(file) == 0 && fsync(fileno(file)) == 0;
    int error = errno;

    if ((fclose(file) != 0 || !good) && sink->problem == NULL)
        sink->problem = g_strdup_printf("cannot be written: %s", g_strerror(error));
}

static FILE *file_of(Sink *sink, const char *type)
{
    FILE *file = g_hash_table_lookup(sink->files, type);

    if (file != NULL || sink->problem != NULL) return file;
    g_autofree char *name = g_strconcat(type, ".ndjson", NULL);
    g_autofree char *path = g_build_filename(sink->folder, name, NULL);
    file = make_file(path, &sink->problem);
    if (file != NULL) g_hash_table_insert(sink->files, g_strdup(type), file);
    return file;
}

/* The resource as text and what ends it. A failure shows when the file is closed. */
static void put_json(Sink *sink, const json_t *resource, FILE *file, char end)
{
    g_string_truncate(sink->text, 0);
    body_append_as_set(sink->text, resource);
    g_string_append_c(sink->text, end);
    fwrite(sink->text->str, 1, sink->text->len, file);
}

static void put_entry(Sink *sink, const json_t *resource, const char *type)
{
    fprintf(sink->bundle,
            "%s{\"fullUrl\":\"" BASE "%s/%s\",\"resource\":", sink->resources > 0 ? ",\n" : "",
            type, json_string_value(json_object_get(resource, "id")));
    put_json(sink, resource, sink->bundle, '}');
}

static void emit(json_t *resource, void *context)
{
    Sink *sink = context;
    const char *type = json_string_value(json_object_get(resource, "resourceType"));

    if (sink->bundle != NULL) {
        put_entry(sink, resource, type);
    } else {
        FILE *file = file_of(sink, type);
        if (file != NULL) put_json(sink, resource, file, '\n');
    }
    sink->resources++;
    json_decref(resource);
}

/* --- a client --------------------------------------------------------------------------------- */

static void take_setting(const char *field, const char *value, void *context)
{
    json_t *parsed = value != NULL ? json_loads(value, JSON_DECODE_ANY, NULL) : NULL;

    if (parsed != NULL) g_hash_table_insert(context, g_strdup(field), parsed);
}

static void free_value(gpointer value)
{
    json_decref(value);
}

static void load_client(Tx *tx, FhirClient *client)
{
    g_autoptr(GPtrArray) bars = find_bars(tx, client->id);

    client->settings = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_value);
    client->contacts = find_contacts(tx, client->id);
    find_setting_values(tx, client->id, take_setting, client->settings);
    for (guint i = 0; i < bars->len; i++) {
        const char *kind = row_text(bars->pdata[i], BAR_KIND);
        const char *why = row_text(bars->pdata[i], BAR_WHY);
        if (g_strcmp0(kind, "end") == 0) client->ended = true;
        if (g_strcmp0(kind, "end") == 0 && g_strcmp0(why, "finished") == 0) client->finished = true;
        if (g_strcmp0(kind, "stop") == 0) client->stopped = true;
        if (g_strcmp0(kind, "hold") == 0 || g_strcmp0(kind, "pause") == 0 ||
            g_strcmp0(kind, "suspend") == 0)
            client->waits = true;
    }
}

typedef struct {
    const FhirClient *client;
    const FhirOut *out;
    char month[8];
    SessionCounts counts;
} Months;

static void end_month(Months *months)
{
    if (months->month[0] != '\0')
        fhir_adherence(months->client, months->month, &months->counts, months->out);
    months->counts = (SessionCounts){0};
}

static void take_month(const char *month, const char *state, int count, void *context)
{
    Months *months = context;

    if (strcmp(months->month, month) != 0) {
        end_month(months);
        g_strlcpy(months->month, month, sizeof months->month);
    }
    for (int i = 0; i < count; i++)
        session_count(&months->counts, state);
}

typedef void WriteRow(const FhirClient *client, const Row *row, const FhirOut *out);

static void write_rows(Tx *tx, TableId table, const FhirClient *client, WriteRow *write,
                       const FhirOut *out)
{
    g_autoptr(GPtrArray) rows = find_all_of(tx, table, client->id);

    for (guint i = 0; i < rows->len; i++)
        write(client, rows->pdata[i], out);
}

/* What may also be of no client: client NULL. */
static void write_post(Tx *tx, const FhirClient *client, const char *source, const FhirOut *out)
{
    static const struct {
        TableId table;
        void (*write)(const FhirClient *, const char *, const Row *, const FhirOut *);
    } POST[] = {
        {TABLE_ALERT, fhir_alert},
        {TABLE_MESSAGE, fhir_message},
        {TABLE_REPLY, fhir_reply},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(POST); i++) {
        g_autoptr(GPtrArray) rows = client != NULL ? find_all_of(tx, POST[i].table, client->id)
                                                   : find_all_of_nobody(tx, POST[i].table);
        for (guint j = 0; j < rows->len; j++)
            POST[i].write(client, source, rows->pdata[j], out);
    }
}

static void write_client(Tx *tx, const char *id, const char *source, const FhirOut *out)
{
    FhirClient client = {.id = id, .source = source};
    g_autofree char *event = NULL;
    g_autofree char *author = NULL;
    int64_t wall = 0;

    load_client(tx, &client);
    Months months = {.client = &client, .out = out};
    fhir_client(&client, out);
    fhir_plan(&client, out);
    write_rows(tx, TABLE_REPORT, &client, fhir_report, out);
    write_rows(tx, TABLE_MEASURE, &client, fhir_measure, out);
    write_post(tx, &client, source, out);
    find_session_months(tx, id, take_month, &months);
    end_month(&months);
    if (find_last_event(tx, id, &event, &author, &wall))
        fhir_provenance(&client, event, author, wall, out);
    g_hash_table_unref(client.settings);
    g_ptr_array_unref(client.contacts);
}

/* --- all -------------------------------------------------------------------------------------- */

static void write_clinic(Tx *tx, const char *source, const FhirOut *out)
{
    g_autoptr(GPtrArray) clients = find_clients(tx);

    for (guint i = 0; i < clients->len; i++)
        write_client(tx, clients->pdata[i], source, out);
    write_post(tx, NULL, source, out);
}

static void close_all(Sink *sink)
{
    GHashTableIter iterator;
    gpointer file;

    g_hash_table_iter_init(&iterator, sink->files);
    while (g_hash_table_iter_next(&iterator, NULL, &file))
        close_file(file, sink);
    g_hash_table_unref(sink->files);
    if (sink->bundle == NULL) return;
    fputs("]}\n", sink->bundle);
    close_file(sink->bundle, sink);
}

char *records_fhir(Tx *tx, const char *client, const char *out, int64_t *resources)
{
    g_autoptr(GHashTable) people = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    g_autofree char *replica = find_first_replica(tx);
    g_autofree char *source =
        g_strconcat("https://osier.example/ledger/", replica != NULL ? replica : "", NULL);
    g_autoptr(GString) text = g_string_new(NULL);
    Sink sink = {.folder = client == NULL ? out : NULL,
                 .text = text,
                 .files = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};
    const FhirOut to = {.emit = emit, .context = &sink, .people = people};

    if (client != NULL) sink.bundle = make_file(out, &sink.problem);
    if (client != NULL && sink.bundle != NULL)
        fprintf(sink.bundle,
                "{\"resourceType\":\"Bundle\",\"id\":\"%s\",\"meta\":{\"source\":\"%s\"},"
                "\"type\":\"collection\",\"entry\":[\n",
                client, source);
    if (client == NULL)
        write_clinic(tx, source, &to);
    else if (sink.bundle != NULL)
        write_client(tx, client, source, &to);
    if (sink.problem == NULL) fhir_people(source, &to);
    close_all(&sink);
    *resources = sink.resources;
    return sink.problem;
}
