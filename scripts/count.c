// A plugin of qemu-user that counts the guest's instructions, for scripts/instructions-arm64. At the end
// it writes a line for each piece of code: the count, a tab, and the program's function or the library's
// file. The declarations are those of QEMU's plugin interface, version 1, whose header Debian does not
// package. Threads add without a lock, which may lose a few.
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct qemu_plugin_tb;
struct qemu_plugin_insn;
typedef uint64_t id;
size_t qemu_plugin_tb_n_insns(const struct qemu_plugin_tb *);
uint64_t qemu_plugin_tb_vaddr(const struct qemu_plugin_tb *);
struct qemu_plugin_insn *qemu_plugin_tb_get_insn(const struct qemu_plugin_tb *, size_t);
const char *qemu_plugin_insn_symbol(const struct qemu_plugin_insn *);
void qemu_plugin_register_vcpu_tb_trans_cb(id, void (*)(id, struct qemu_plugin_tb *));
void qemu_plugin_register_vcpu_tb_exec_inline(struct qemu_plugin_tb *, int, void *, uint64_t);
void qemu_plugin_register_atexit_cb(id, void (*)(id, void *), void *);

__attribute__((visibility("default"))) int qemu_plugin_version = 1;

static struct block {
	uint64_t count, address;
	const char *function; // or NULL
	struct block *next;
} *blocks;

// qemu holds a lock around this.
static void translated(id i, struct qemu_plugin_tb *tb)
{
	struct block *b = calloc(1, sizeof *b);
	if (!b)
		abort();
	b->address = qemu_plugin_tb_vaddr(tb);
	b->function = qemu_plugin_insn_symbol(qemu_plugin_tb_get_insn(tb, 0));
	b->next = blocks;
	blocks = b;
	qemu_plugin_register_vcpu_tb_exec_inline(tb, 0 /* add */, &b->count, qemu_plugin_tb_n_insns(tb));
}

// file_at finds the file that is mapped at an address; the guest's are qemu's own.
static const char *file_at(uint64_t address)
{
	static char line[4096];
	uint64_t from, to;
	const char *found = "unknown";
	FILE *maps = fopen("/proc/self/maps", "r");
	while (maps && fgets(line, sizeof line, maps))
		if (sscanf(line, "%" SCNx64 "-%" SCNx64, &from, &to) == 2 && address >= from && address < to) {
			char *slash = strrchr(line, '/');
			line[strcspn(line, "\n")] = 0;
			found = slash ? slash + 1 : "unknown";
			break;
		}
	if (maps)
		fclose(maps);
	return found;
}

static void ended(id i, void *path)
{
	FILE *out = fopen(path, "w");
	if (!out) {
		perror(path);
		return;
	}
	for (struct block *b = blocks; b; b = b->next)
		if (b->count)
			fprintf(out, "%" PRIu64 "\t%s\n", b->count, b->function && *b->function ? b->function : file_at(b->address));
	fclose(out);
}

__attribute__((visibility("default"))) int qemu_plugin_install(id i, const void *info, int argc, char **argv)
{
	if (argc != 1 || strncmp(argv[0], "out=", 4)) {
		fputs("count: give it out=FILE\n", stderr);
		return 1;
	}
	qemu_plugin_register_vcpu_tb_trans_cb(i, translated);
	qemu_plugin_register_atexit_cb(i, ended, strdup(argv[0] + 4));
	return 0;
}
