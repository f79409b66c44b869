/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/site.h"

#include <curl/curl.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdarg.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/folder.h"

/* build/san/tests/real/loop_test -> build/san/NAME */
static char *program(const char *name)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *room = g_path_get_dirname(self);
    const char *tests = g_strrstr(room, "/tests/");

    g_assert_nonnull(tests);
    g_autofree char *out = g_strndup(room, (gsize)(tests - room));
    return g_build_filename(out, name, NULL);
}

static char *below(const Site *site, const char *name)
{
    return g_build_filename(site->root, name, NULL);
}

static void note_sanitizer(Site *site, const char *text)
{
    static const char *const SIGNS[] = {"Sanitizer", "runtime error:", "assertion failed"};

    for (size_t i = 0; text != NULL && i < G_N_ELEMENTS(SIGNS); i++)
        if (strstr(text, SIGNS[i]) != NULL) {
            site->faulty = true;
            g_printerr("%s\n", text);
        }
}

Site *site_new(void)
{
    Site *site = g_new0(Site, 1);
    g_autofree char *osier = program("osier");
    int status = 0;

    curl_global_init(CURL_GLOBAL_DEFAULT);
    site->root = folder_new();
    site->clinic = below(site, "clinic");
    site->socket = g_build_filename(site->clinic, "osierd.sock", NULL);
    char *argv[] = {osier, (char *)"init", site->clinic, NULL};
    g_assert_true(g_spawn_sync(NULL, argv, NULL, G_SPAWN_STDOUT_TO_DEV_NULL, NULL, NULL, NULL, NULL,
                               &status, NULL));
    g_assert_cmpint(status, ==, 0);
    return site;
}

void site_free(Site *site)
{
    if (site->pid > 0) {
        int code = site_stop(site);
        g_assert_cmpint(code, ==, 0);
    }
    g_assert_false(site->faulty);
    folder_remove(site->root);
    g_free(site->clinic);
    g_free(site->socket);
    g_free(site);
}

void site_settings(Site *site, const char *yaml)
{
    folder_write(site->clinic, "clinic.yaml", yaml, -1, 0600);
}

void site_secret(Site *site, const char *name, const char *value)
{
    g_autofree char *path = g_build_filename("secrets", name, NULL);

    folder_write(site->clinic, path, value, -1, 0600);
}

/* --- osierd --- */

typedef struct {
    const char *said;
    long size_max;
} Birth;

/* In the child, between fork and exec. */
static void be_born(void *context)
{
    const Birth *birth = context;
    struct rlimit limit = {(rlim_t)birth->size_max, (rlim_t)birth->size_max};
    int file = open(birth->said, O_WRONLY | O_CREAT | O_TRUNC, 0600);

    if (file >= 0) dup2(file, STDERR_FILENO);
    prctl(PR_SET_PDEATHSIG, SIGKILL); /* a test that fails leaves no osierd behind */
    if (birth->size_max > 0) {
        signal(SIGXFSZ, SIG_IGN); /* a write past the bound then fails, as on a full device */
        setrlimit(RLIMIT_FSIZE, &limit);
    }
}

static bool wait_for(int from, const char *words)
{
    g_autoptr(GString) heard = g_string_new(NULL);
    char letter;

    /* One at a time: what follows the words is left for the next who waits. */
    while (read(from, &letter, 1) == 1) {
        g_string_append_c(heard, letter);
        if (strstr(heard->str, words) != NULL) return true;
    }
    return false;
}

/* Its standard output. */
static int spawn(Site *site, const char *clock, bool stands_by, long size_max)
{
    g_autofree char *osierd = program("osierd");
    g_autofree char *said = below(site, "said");
    g_autofree char *seed = g_strdup_printf("%d", site->seed);
    g_autofree char *room = g_strdup_printf("%d", (int)site->room);
    const char *argv[13] = {"nsenter", "-n", "-t", room};
    Birth birth = {.said = said, .size_max = size_max};
    int count = site->room != 0 ? 4 : 0, out = -1;

    argv[count++] = osierd;
    argv[count++] = "--clinic";
    argv[count++] = site->clinic;
    if (stands_by) argv[count++] = "--stand-by";
    if (clock != NULL) {
        argv[count++] = "--clock";
        argv[count++] = clock;
    }
    if (clock != NULL && site->seed != 0) {
        argv[count++] = "--seed";
        argv[count++] = seed;
    }
    argv[count] = NULL;
    g_assert_cmpint(site->pid, ==, 0);
    g_assert_true(g_spawn_async_with_pipes(NULL, (char **)argv, NULL,
                                           G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_SEARCH_PATH, be_born,
                                           &birth, &site->pid, NULL, &out, NULL, NULL));
    return out;
}

int site_start_bounded(Site *site, const char *clock, long size_max)
{
    int out = spawn(site, clock, false, size_max);
    bool ready = wait_for(out, "osierd: ready");

    close(out);
    return ready ? 0 : site_wait(site);
}

int site_start(Site *site, const char *clock)
{
    return site_start_bounded(site, clock, 0);
}

int site_stand_by(Site *site, const char *clock)
{
    site->heard = spawn(site, clock, true, 0);
    return wait_for(site->heard, "osierd: stands by") ? 0 : site_wait(site);
}

int site_take_over(Site *site)
{
    return wait_for(site->heard, "osierd: ready") ? 0 : site_wait(site);
}

int site_wait(Site *site)
{
    int status = 0;

    g_assert_cmpint(site->pid, >, 0);
    while (waitpid(site->pid, &status, 0) < 0)
        continue;
    site->pid = 0;
    if (site->heard > 0) close(site->heard);
    site->heard = 0;
    g_autofree char *said = site_said(site);
    note_sanitizer(site, said);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

int site_stop(Site *site)
{
    kill(site->pid, SIGTERM);
    return site_wait(site);
}

void site_kill(Site *site)
{
    kill(site->pid, SIGKILL);
    site_wait(site);
}

char *site_said(const Site *site)
{
    g_autofree char *path = below(site, "said");
    char *text = NULL;

    g_file_get_contents(path, &text, NULL, NULL);
    return text != NULL ? text : g_strdup("");
}

/* How often it has told what it made of its settings. */
static int reloads(const Site *site)
{
    g_autofree char *said = site_said(site);
    int times = 0;

    for (const char *at = said; (at = strstr(at, "event=settings.")) != NULL; at++)
        times++;
    return times;
}

void site_reload(Site *site)
{
    int before = reloads(site);

    kill(site->pid, SIGHUP);
    for (int turn = 0; turn < 3000 && reloads(site) == before; turn++)
        g_usleep(10000);
    g_assert_cmpint(reloads(site), ==, before + 1);
}

/* --- the command line --- */

static int run_words(Site *site, bool json, char **out, char **err, const char *words)
{
    g_autofree char *osier = program("osier");
    g_autoptr(GPtrArray) argv = g_ptr_array_new();
    g_auto(GStrv) parts = NULL;
    g_autofree char *said = NULL;
    int status = 0;

    g_assert_true(g_shell_parse_argv(words, NULL, &parts, NULL));
    g_ptr_array_add(argv, osier);
    for (int i = 0; parts[i] != NULL; i++)
        g_ptr_array_add(argv, parts[i]);
    g_ptr_array_add(argv, (char *)"--clinic");
    g_ptr_array_add(argv, site->clinic);
    if (json) g_ptr_array_add(argv, (char *)"--json");
    g_ptr_array_add(argv, NULL);
    g_assert_true(g_spawn_sync(NULL, (char **)argv->pdata, NULL, 0, NULL, NULL, out,
                               err != NULL ? err : &said, &status, NULL));
    note_sanitizer(site, err != NULL ? *err : said);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

int site_shell(Site *site, char **out, char **err, const char *script)
{
    g_autofree char *osier = program("osier");
    g_auto(GStrv) environment = g_get_environ();
    char *argv[] = {(char *)"sh", (char *)"-c", (char *)script, NULL};
    g_autofree char *written = NULL, *said = NULL;
    int status = 0;

    environment = g_environ_setenv(environment, "OSIER", osier, TRUE);
    environment = g_environ_setenv(environment, "CLINIC", site->clinic, TRUE);
    g_assert_true(g_spawn_sync(site->root, argv, environment, G_SPAWN_SEARCH_PATH, NULL, NULL,
                               out != NULL ? out : &written, err != NULL ? err : &said, &status,
                               NULL));
    note_sanitizer(site, err != NULL ? *err : said);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

static char *write_words(const char *words, va_list list)
{
    return g_strdup_vprintf(words, list);
}

int site_osier(Site *site, char **out, char **err, const char *words, ...)
{
    g_autofree char *unwanted = NULL;
    va_list list;

    va_start(list, words);
    g_autofree char *line = write_words(words, list);
    va_end(list);
    return run_words(site, true, out != NULL ? out : &unwanted, err, line);
}

char *site_told(Site *site, const char *words, ...)
{
    char *out = NULL;
    va_list list;

    va_start(list, words);
    g_autofree char *line = write_words(words, list);
    va_end(list);
    g_assert_cmpint(run_words(site, false, &out, NULL, line), ==, 0);
    return out;
}

json_t *site_ask(Site *site, const char *words, ...)
{
    g_autofree char *out = NULL;
    g_autofree char *err = NULL;
    va_list list;

    va_start(list, words);
    g_autofree char *line = write_words(words, list);
    va_end(list);
    int code = run_words(site, true, &out, &err, line);
    if (code != 0) g_error("osier %s: %d: %s", line, code, err);
    json_t *document = json_loads(out, JSON_DECODE_ANY, NULL);
    if (document == NULL) g_error("osier %s: no JSON: %s", line, out);
    return document;
}

void site_fails(Site *site, int code, const char *holds, const char *words, ...)
{
    g_autofree char *out = NULL;
    g_autofree char *err = NULL;
    va_list list;

    va_start(list, words);
    g_autofree char *line = write_words(words, list);
    va_end(list);
    int ended = run_words(site, true, &out, &err, line);
    const char *end = strchr(err, '\n');
    bool one_line = end != NULL && end[1] == '\0';
    if (ended != code || !one_line || !g_str_has_prefix(err, "osier: ") ||
        strstr(err, holds) == NULL)
        g_error("osier %s: wanted %d and one line with '%s', got %d: %s", line, code, holds, ended,
                err);
}

/* --- HTTP --- */

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
}

static CURL *prepare(const char *url, GString *heard)
{
    CURL *curl = curl_easy_init();

    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, heard);
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, 120L);
    return curl;
}

json_t *site_call(Site *site, const char *method, const char *path, json_t *body, long *status)
{
    g_autoptr(GString) heard = g_string_new(NULL);
    g_autofree char *url = g_strconcat("http://osierd", path, NULL);
    g_autofree char *text = body != NULL ? json_dumps(body, JSON_COMPACT) : NULL;
    CURL *curl = prepare(url, heard);
    json_t *document = NULL;

    json_decref(body);
    *status = 0;
    curl_easy_setopt(curl, CURLOPT_UNIX_SOCKET_PATH, site->socket);
    curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, method);
    if (text != NULL) curl_easy_setopt(curl, CURLOPT_POSTFIELDS, text);
    if (curl_easy_perform(curl) == CURLE_OK) {
        curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, status);
        document = json_loadb(heard->str, heard->len, JSON_DECODE_ANY, NULL);
    }
    curl_easy_cleanup(curl);
    return document;
}

GBytes *site_fetch(Site *site, const char *path, long *status)
{
    GString *heard = g_string_new(NULL);
    g_autofree char *url = g_strconcat("http://osierd", path, NULL);
    CURL *curl = prepare(url, heard);

    *status = 0;
    curl_easy_setopt(curl, CURLOPT_UNIX_SOCKET_PATH, site->socket);
    if (curl_easy_perform(curl) == CURLE_OK)
        curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, status);
    curl_easy_cleanup(curl);
    return g_string_free_to_bytes(heard);
}

bool site_clock(Site *site, const char *to)
{
    long status;
    json_t *answer = site_call(site, "POST", "/clock", json_pack("{s:s}", "to", to), &status);

    if (status != 0 && status != 200) {
        const json_t *error = json_object_get(answer, "error");
        const char *why = json_string_value(json_object_get(error, "why"));
        if (g_strcmp0(why, "osierd stops") == 0) {
            json_decref(answer);
            return false;
        }
        g_autofree char *text = json_dumps(answer, JSON_COMPACT);
        g_error("clock to %s: %s", to, text);
    }
    json_decref(answer);
    return status == 200;
}

long site_post(int port, const char *path, const char *const *headers, const char *body,
               size_t length)
{
    g_autoptr(GString) heard = g_string_new(NULL);
    g_autofree char *url = g_strdup_printf("http://127.0.0.1:%d%s", port, path);
    struct curl_slist *list = curl_slist_append(NULL, "Expect:");
    CURL *curl = prepare(url, heard);
    long status = 0;

    for (; headers != NULL && *headers != NULL; headers++)
        list = curl_slist_append(list, *headers);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, list);
    curl_easy_setopt(curl, CURLOPT_POST, 1L);
    curl_easy_setopt(curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)length);
    curl_easy_setopt(curl, CURLOPT_POSTFIELDS, body);
    curl_easy_perform(curl); /* an answer may come before all was sent */
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    curl_slist_free_all(list);
    curl_easy_cleanup(curl);
    return status;
}

int site_free_port(void)
{
    struct sockaddr_in address = {.sin_family = AF_INET};
    socklen_t length = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    g_assert_cmpint(bind(fd, (struct sockaddr *)&address, sizeof address), ==, 0);
    g_assert_cmpint(getsockname(fd, (struct sockaddr *)&address, &length), ==, 0);
    close(fd);
    return ntohs(address.sin_port);
}
